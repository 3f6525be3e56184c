"""A whole frame, 1920 x 1080, from the scene to eight bits, and its steps."""

from __future__ import annotations

from simulator.camera.blur import add_far_diffraction, blur_image
from simulator.camera.light_field import frame_light
from simulator.camera.pipeline import mosaic_of, shoot
from simulator.camera.processing import develop, finish, noise_table, reduce_noise
from simulator.camera.small_picture import meter_light
from simulator.camera.stray_light import add_glare, veiling_glare


def test_frame(benchmark, in_scene, state):
    def frame():
        light = frame_light(in_scene, state.mode, state.exposure.shutter_s)
        return shoot(in_scene, state, [light.rate], seed=1)

    assert benchmark(frame).shape == (1, 1080, 1920, 3)


def test_light(benchmark, in_scene, state):
    benchmark(frame_light, in_scene, state.mode, state.exposure.shutter_s)


def test_metering(benchmark, in_scene, state):
    benchmark(meter_light, in_scene, state.mode)


def test_shoot(benchmark, in_scene, state):
    rate = frame_light(in_scene, state.mode, state.exposure.shutter_s).rate
    benchmark(shoot, in_scene, state, [rate], seed=1)


def test_blur(benchmark, in_scene, state):
    rate = frame_light(in_scene, state.mode, state.exposure.shutter_s).rate
    blur = in_scene.blur_at(in_scene.focus_m, in_scene.mean_wavelength_nm(state.mode))
    benchmark(blur_image, rate, blur)


def test_far_diffraction(benchmark, in_scene, state):
    rate = frame_light(in_scene, state.mode, state.exposure.shutter_s).rate
    blur = in_scene.blur_at(in_scene.focus_m, in_scene.mean_wavelength_nm(state.mode))
    benchmark(add_far_diffraction, rate, rate, blur)


def test_glare(benchmark, in_scene, state):
    rate = frame_light(in_scene, state.mode, state.exposure.shutter_s).rate
    full = (rate.shape[1], rate.shape[0])
    benchmark(lambda: add_glare(rate, veiling_glare(rate), 0.02, (0, 0), full))


def test_processing(benchmark, in_scene, state):
    settings, sensor = in_scene.camera.processing, in_scene.camera.sensor
    rate = frame_light(in_scene, state.mode, state.exposure.shutter_s).rate
    mosaic = mosaic_of(in_scene, state, rate, seed=1)
    noise = noise_table(sensor, state.chain, state.exposure.shutter_s, settings.tone)

    def process():
        planes = develop(mosaic, state.chain, state.colour, settings.tone, (0, 0))
        return finish(reduce_noise(planes, noise, settings), settings, sensor.height_px)

    benchmark(process)
