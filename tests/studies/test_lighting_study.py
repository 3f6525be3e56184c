"""Sizing a lamp: the search, the lamp's light, the words, the files."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from bare import bare

from simulator.errors import InputError
from simulator.light.darkness import Darkness
from simulator.report.lighting.record import save_lighting, verdict_table
from simulator.report.lighting.words import hour_lines, messages_of
from simulator.report.wording import say, say_all
from simulator.studies.lighting.benefit import benefit, cheapest, cost
from simulator.studies.lighting.costs import Money
from simulator.studies.lighting.eyes import eye_cautions, eyes_near
from simulator.studies.lighting.findings import answer, changes, dark_hours, reasons
from simulator.studies.lighting.held import held_exposure
from simulator.studies.lighting.lamps import KINDS, edge_share, flux_of, lamp_entry, with_lamp
from simulator.studies.lighting.need import NoLamp, as_it_is
from simulator.studies.lighting.search import search
from simulator.studies.lighting.study import Ask, check, lighting, parse_point, priced
from simulator.studies.overrides import load_pair
from simulator.studies.quick import Quick, Seen

SMALL = (
    "sensor.width_px=960", "sensor.height_px=540", "sensor.pixel_pitch_um=5.8",
    "target.plate.speed_kmh=0.0", "processing.temporal_noise_reduction=0.0",
    "task.wanted_probability=0.8",
)  # fmt: skip


def ids(messages) -> list[str]:
    return [m.id for m in messages]


def values(messages, name: str):
    return next(m.values for m in messages if m.id == name)


def judged(probability: float) -> Quick:
    low, high = max(0.0, probability - 0.03), min(1.0, probability + 0.03)
    word = "legible" if low >= 0.9 else "not legible"
    return Quick(probability, low, high, word, "night", 0.001, 30.0, 1.6, 0.0)


def window(low: float, high: float, *, best: float = 1.0):
    """A judge that succeeds between two intensities, with soft ends."""

    def judge(values, _fresh):
        return [judged(best / (1.0 + (low / v) ** 8) / (1.0 + (v / high) ** 8)) for v in values]

    return judge


@pytest.mark.by_hand
def test_the_least_intensity_and_the_end_of_the_window():
    """1/(1 + (1/v)^8) = 0.9 at v = 9^(1/8) = 1.316; (1 + (v/50)^8) = 1/0.9 at 38.0."""
    found = search(window(1.0, 50.0), 0.01, 1000.0, 0.9)
    assert 1.316 <= found.least <= 1.316 * 10 ** (0.5 / 27) * 1.001
    assert 30.0 <= found.upper <= 38.0 < found.upper_fails
    # sure with fresh noise, 1 dB steps from the least one
    assert found.fresh.probability_low >= 0.9
    assert found.chosen < 2.0 * found.least


@pytest.mark.invariant
def test_a_window_between_grid_points_is_found():
    found = search(window(1.2, 3.0), 0.01, 1000.0, 0.9)
    assert found.least is not None
    assert 1.2 < found.least < 3.0


@pytest.mark.invariant
def test_what_never_serves_is_told():
    found = search(window(1.0, 50.0, best=0.6), 0.01, 1000.0, 0.9)
    assert (found.least, found.upper, found.upper_fails) == (None, None, None)
    assert 1.0 < found.chosen < 50.0
    assert found.verdict == "not legible"


@pytest.mark.invariant
@pytest.mark.parametrize(("less", "reached"), [(0.04, True), (0.12, False)])
def test_what_fresh_noise_does_not_bear_out_is_no_answer(less, reached):
    first = window(1.0, 50.0)

    def judge(values, fresh):
        return [judged(q.probability - less * fresh) for q in first(values, fresh)]

    found = search(judge, 0.01, 1000.0, 0.9)
    assert (found.fresh.probability >= 0.9) == reached
    assert (found.least is not None) == reached


@pytest.mark.invariant
def test_what_always_serves_has_no_ends():
    found = search(window(1e-6, 1e9), 0.01, 1000.0, 0.9)
    assert (found.least, found.upper_fails) == (pytest.approx(0.01), None)


@pytest.mark.by_hand
def test_beam_arithmetic():
    """120 degrees is Lambertian: m = 1, flux pi I0; towards 30 degrees cos 30 = 0.866 of it."""
    assert flux_of(2.0, 120.0) == pytest.approx(2.0 * np.pi)
    assert edge_share(120.0, 60.0) == pytest.approx(np.cos(np.radians(30.0)))
    assert edge_share(60.0, 60.0) == pytest.approx(0.5)


@pytest.fixture(scope="module")
def found():
    scene, camera = load_pair(bare("depot-gate-infrared"), "plate-2mp-infrared", SMALL)
    ask = Ask(lights=("infrared-850-long",), cameras=(), trials=24, workers=1, seed=3)
    dark = Darkness(48.2, 16.4, 2026, -6.0, (400.0,) * 6 + (250.0,) * 6)
    prices = {"sized-lamp": 100.0, "infrared-850-long": 300.0}
    return lighting(scene, camera, ask, money=Money(dark, 10.0, prices, 0.25, 1000.0))


@pytest.mark.invariant
def test_the_lamp_does_what_is_wanted(found):
    assert found.before.judged.probability < 0.5
    assert found.search.fresh.probability >= 0.8
    assert found.search.least <= found.chosen
    # the scene's own illuminator is off in what was judged, the sized lamp on
    on = [light.name for light in found.sized_scene.model.illuminator if light.on]
    assert on == ["sized lamp"]
    assert np.isclose(found.light.on_target, found.chosen / found.light.distance_m**2, rtol=0.05)


@pytest.mark.invariant
def test_a_lamp_four_hundred_times_as_strong_washes_the_plate_out(found):
    strong = found.ways[0]
    assert strong.intensity == pytest.approx(100.0)
    assert strong.judged.seen.clipped_fraction > found.sized.judged.seen.clipped_fraction + 0.3
    assert strong.eye.group == "risk group 2"


@pytest.mark.invariant
def test_the_lamp_that_washes_out_serves_with_the_exposure_held(found):
    held = next(way for way in found.ways if way.sort == "held")
    assert (held.name, held.bought) == ("infrared-850-long, held", "infrared-850-long")
    assert held.judged.probability > found.ways[0].judged.probability
    assert held.judged.seen.clipped_fraction < 0.2
    # the held camera is darker than the free one, by shutter, gain or both
    assert held.judged.shutter_s <= found.ways[0].judged.shutter_s
    assert held.judged.gain_db < found.ways[0].judged.gain_db
    # it is bought as the lamp, so it costs the same
    assert cost(found, held) == cost(found, found.ways[0])


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("electrons", "motion_px", "expected"),
    [
        # 100 e- in 1/100 s; level 10 e-: a tenth of the light, 1/1000 s and no gain
        (100.0, 0.0, (1 / 1000, 0.0)),
        # 4 e- would want 1/40 s: the step below is 1/50 s, 20 log10(10/(400/50)) = 1.9 dB
        (4.0, 0.0, (1 / 50, 1.9)),
        # 5 px in 1/100 s: half a pixel in 1/1000 s, 20 log10(10/0.4) = 28 dB
        (4.0, 5.0, (1 / 1000, 28.0)),
    ],
)
def test_the_held_exposure(electrons, motion_px, expected):
    _, camera = load_pair(
        bare("depot-gate-infrared"), "fixed-2mp-lowlight",
        ["exposure.shutter_min_s=1e-5", "exposure.shutter_max_s=0.04"],
    )  # fmt: skip
    box = np.zeros((4, 4, 3), np.uint8)
    seen = Seen(box, (0, 0, 4, 4), 200.0, 0.9, 0.1, 1.0, electrons, 1.0, 0.0, 200.0, 20.0)
    at_hand = replace(judged(0.0), shutter_s=0.01, motion_blur_px=motion_px, seen=seen)
    shutter, gain = held_exposure(camera, at_hand, 10.0)
    assert (shutter, gain) == (pytest.approx(expected[0]), pytest.approx(expected[1], abs=0.06))


@pytest.mark.invariant
def test_files_words_and_report(found, tmp_path):
    from simulator.report.document import section_of

    folder = save_lighting(tmp_path / "out", found)
    told = json.loads((folder / "verdict.json").read_text())
    assert told["study"] == "lighting"
    rows = told["messages"]
    answers = [row["id"] for row in rows["answer"]]
    assert answers[-1] == "lighting.yes" or answers[0] == "lighting.yes-held"
    if found.bought is not None and found.bought.judged.verdict == "legible":
        # the lamp that is bought comes first, watts before steradians
        assert answers[0].startswith("lighting.class") or answers[0] == "lighting.yes-held"
        if answers[0].startswith("lighting.class"):  # what it blackens is said at once
            assert ("specify.blackens" in answers[:2]) == (found.bought.rest.black_fraction >= 0.5)
    assert rows["cautions"][0]["id"] == "lighting-eye.estimate"
    assert "lighting-eye.defer" in [row["id"] for row in rows["cautions"]]
    # the sized lamp's infrared is said at length, and not once more
    assert "caution.infrared-eye" not in [row["id"] for row in rows["cautions"]]
    for name in ("sheet.png", "sheet-2.png", "sheet-3.png", "map.png"):
        assert (folder / name).stat().st_size > 40_000
    section = section_of(folder)
    assert section.tables and section.pictures and section.changes
    # 3900 h; the archetype of 30 W: 117 kWh, 29.25 a year, 592.5 with its price over 10 years
    costs = next(t for t in told["tables"] if "price" in t["head"])
    row = next(r for r in costs["rows"] if r[0] == "infrared-850-long")
    assert row[1:] == ["300", "117", "29.2", "592"]
    assert len(section.pictures) == len(told["pictures"]) == 5
    assert section.tone == "good"


@pytest.mark.invariant
def test_without_prices_nothing_is_invented(found):
    poor = replace(found, money=Money())
    told = verdict_table(poor)
    costs = next(t for t in told["tables"] if "price" in t["head"])
    assert {c for r in costs["rows"] for c in r[1:]} <= {"not given", "0"}
    given = told["lighting"]["costs_given"]
    assert (given["place"], given["energy"]) == (False, False)
    assert "sized-lamp" in given["names"]
    assert ids(cheapest(poor)) == ["lighting-change.not-counted"]
    assert "--" not in " ".join(told["changes"])


@pytest.mark.by_hand
def test_benefit_and_payback(found):
    """0.9 against 0.4 over 1000 passes at 2 each: 500 saved, worth 1000 a year; a lamp of 100 and
    next to no energy is paid back within 0.1 years and a little."""
    before = replace(found.before.judged, probability=0.4)
    fresh = replace(found.search.fresh, probability=0.9)
    money = replace(found.money, prices={**found.money.prices, "missed": 2.0})
    it = replace(
        found, money=money, before=replace(found.before, judged=before),
        search=replace(found.search, fresh=fresh),
    )  # fmt: skip
    out = benefit(it)
    assert values(out, "lighting-benefit.more-succeed")["gain"] == pytest.approx(0.5)
    assert values(out, "lighting-benefit.yearly")["count"] == pytest.approx(500.0)
    assert values(out, "lighting-benefit.worth")["worth"] == pytest.approx(1000.0)
    assert values(out, "lighting-benefit.payback")["years"] == pytest.approx(0.1, rel=0.01)
    same = replace(it, search=replace(it.search, fresh=replace(fresh, probability=0.4)))
    assert ids(benefit(same)) == ["lighting-benefit.none"]


@pytest.mark.invariant
def test_a_lamp_that_is_not_needed_is_not_sold(found):
    fine = replace(
        found.before.judged, probability=1.0, probability_low=0.97, probability_high=1.0,
        verdict="legible",
    )  # fmt: skip
    bright = replace(found, before=replace(found.before, judged=fine))
    assert ids(answer(bright)) == ["lighting.not-needed"]
    # 100 W/sr washes the plate out
    assert ids(changes(bright)) == ["lighting-change.leave-out", "lighting-change.worse-with"]
    assert "infrared-850-long" in values(changes(bright), "lighting-change.worse-with")["names"]
    assert cheapest(bright) == []


@pytest.mark.invariant
def test_what_works_instead_is_told_where_no_lamp_does(found):
    poor = replace(
        found.search.fresh, probability=0.0, probability_low=0.0, probability_high=0.1,
        verdict="not legible",
    )  # fmt: skip
    lost = replace(found, search=replace(found.search, least=None, fresh=poor))
    told = answer(lost)
    assert told[0].id == "lighting.none-works"
    assert "lighting.best" not in ids(told)
    held = next(way for way in found.ways if way.sort == "held")
    assert ("lighting.works-instead" in ids(told)) == (held.judged.verdict == "legible")
    if held.judged.verdict == "legible":
        instead = values(told, "lighting.works-instead")
        assert instead["names"] == (held.bought,)
        assert instead["shutters_s"] == (held.judged.shutter_s,)


@pytest.mark.invariant
def test_every_message_can_be_said(found):
    for low in (0.0, 0.95):
        fresh = replace(
            found.search.fresh, probability_low=low, verdict="legible" if low else "marginal"
        )
        for least in (None, found.search.least):
            it = replace(found, search=replace(found.search, least=least, fresh=fresh))
            messages = messages_of(it)
            parts = (messages.why, messages.changes, messages.costs, messages.conditions)
            texts = [messages.answer_words, say(messages.engineer)]
            texts += [text for part in parts for text in say_all(part)]
            assert all(texts)
            assert not any("{" in text or " ." in text or " None" in text for text in texts)


@pytest.mark.invariant
def test_what_is_at_fault_is_refused():
    scene, camera = load_pair(bare("depot-gate-infrared"), "plate-2mp-infrared", SMALL)
    with pytest.raises(InputError, match="kind"):
        lighting(scene, camera, Ask(kind="infrared"))
    with pytest.raises(InputError) as refused:
        check(Ask(lights=("infrared-850-lang",)), Money())
    assert refused.value.argument == "lights"
    with pytest.raises(InputError, match="does not light"):
        lighting(scene, camera, Ask(at_m=(0.4, 25.0, 3.0), cameras=()))
    with pytest.raises(InputError) as refused:
        lighting(scene, camera, Ask(), money=Money(prices={"sized-lampp": 3.0}))
    assert "sized-lamp" in refused.value.fix
    with pytest.raises(InputError):
        parse_point("--at", "1,2")
    assert "missed" not in priced(Ask())


@pytest.mark.invariant
def test_a_lamp_of_every_kind_stands_in_a_scene():
    scene, _ = load_pair(bare("depot-gate-dark"), "fixed-2mp-lowlight")
    for kind in KINDS.values():
        entry = lamp_entry(kind, "new", 2.0, 30.0, (0.4, 18.0, 0.5))
        assert [x.name for x in with_lamp(scene, entry).model.illuminator] == ["new"]


@pytest.mark.invariant
def test_the_hour_is_told(found):
    (dark,) = dark_hours(found.money.dark)
    # 6 times 400 h and 6 times 250 h
    assert dark.values["hours"] == 3900.0
    assert (dark.values["latitude_deg"], dark.values["below_deg"]) == (48.2, -6.0)
    first, second = hour_lines(found.scene, [dark])
    assert "0.02 lx" in first
    # its own illuminator is off, and said to be
    assert "mast infrared" in first
    told = verdict_table(found)
    assert told["hours"] == [first, second] == told["conditions"][:2]
    # as its file has it, the mast lights the plate
    own = values(reasons(found), "lighting-why.own")
    assert own["names"] == ("mast infrared",)
    assert own["probability"] > found.before.judged.probability


@pytest.mark.invariant
def test_without_need_nothing_is_sized(tmp_path):
    from simulator.report.document import section_of

    day = ("natural_light.illuminance_lux=5000", "natural_light.spectrum=daylight")
    scene, camera = load_pair(bare("depot-gate-infrared"), "fixed-2mp-lowlight", (*SMALL, *day))
    before = as_it_is(scene, camera, seed=0, trials=24)
    assert before.suffices
    assert before.illuminators == ("mast infrared",)
    no_lamp = NoLamp(scene, camera, before, 0, 24)
    folder = save_lighting(tmp_path / "out", no_lamp)
    told = json.loads((folder / "verdict.json").read_text())
    assert told == json.loads(json.dumps(verdict_table(no_lamp)))
    assert told["messages"]["answer"][0]["id"] == "lighting.not-needed"
    assert told["messages"]["changes"][0]["id"] == "lighting-change.leave-out"
    assert told["lighting"]["needed"] is False
    assert (folder / "sheet.png").stat().st_size > 40_000
    assert len(section_of(folder).pictures) == 1
    # in the night of the scene a lamp is needed
    scene, camera = load_pair(bare("depot-gate-infrared"), "fixed-2mp-lowlight", SMALL)
    assert not as_it_is(scene, camera, seed=0, trials=24).suffices


PORCH = (
    "sensor.width_px=320", "sensor.height_px=180", "sensor.pixel_pitch_um=17.4",
    "processing.temporal_noise_reduction=0.0",
    "natural_light.illuminance_lux=0.003", "natural_light.spectrum=night-sky",
    "lamp.porch lamp.on=false",
)  # fmt: skip


@pytest.mark.invariant
@pytest.mark.parametrize("kind", ["infrared-850", "white"])
def test_a_lamp_for_a_face(kind):
    """The caller's eyes, 1.2 m away, are told; nothing speaks of plates."""
    # metering on average, a white lamp washes some of the face out before it has lit it enough
    wanted = 0.85
    sets = (*PORCH, f"task.wanted_probability={wanted}")
    scene, camera = load_pair(bare("entry-panel-face"), "fixed-2mp-lowlight", sets)
    light = {"infrared-850": "infrared-850-long", "white": "white-led-flood"}[kind]
    ask = Ask(kind, lights=(light,), cameras=(), trials=8, workers=1, at_m=(0.3, 0.0, 1.7))
    found = lighting(scene, camera, ask)
    assert found.before.judged.probability < wanted <= found.search.fresh.probability
    told = verdict_table(found)
    words = " ".join(
        [told["answer"], *told["why"], *told["changes"], *told["conditions"], *told["cautions"]]
    )
    assert "plate" not in words
    first = answer(found)[0].values
    assert (first["name"], first["task"]) == ("caller", "identify")
    out = eye_cautions(found)
    # from (0.3, 0, 1.7) to (0, 1.2, 1.62)
    away = np.sqrt(0.3**2 + 1.2**2 + 0.08**2)
    if kind == "white":
        near = values(out, "lighting-eye.near-visible")
        assert "white-led-flood" in values(out, "lighting-eye.dazzling")["names"]
        assert "lighting-eye.mount-high" in ids(out)
    else:
        near = values(out, "lighting-eye.near")
        assert not near["beyond"]
        # 100 W/sr gives 65 W/m2 at 1.24 m, but exceeds 100 W/m2 within 1 m, more than half the way
        too_near = values(out, "lighting-eye.too-near")
        assert too_near["names"] == ("infrared-850-long",)
        assert too_near["hazards_m"] == pytest.approx((1.0,), abs=0.005)
    assert near["name"] == "caller"
    assert near["away_m"] == pytest.approx(away)


@pytest.mark.by_hand
def test_the_eyes_of_someone_who_walks(found):
    """1.75 m tall: eyes at 0.94 of that, 1.645 m; the lamp at (0.3, 0, 3.2), the feet at
    (0.5, 30, 0)."""
    scene, _ = load_pair("perimeter-fog", "fixed-2mp-lowlight")
    lamp = replace(found.light, lamp_m=np.array([0.3, 0.0, 3.2]))
    ((name, away),) = eyes_near(replace(found, scene=scene, light=lamp))
    assert name == "walker"
    assert away == pytest.approx(np.sqrt(0.2**2 + 30.0**2 + (3.2 - 1.645) ** 2))


@pytest.mark.by_hand
def test_infrared_beyond_the_limit_at_the_eyes_is_told(found):
    """100 W/m2 is exceeded within 1 m of 100 W/sr; the lamp then stands 0.5 m away."""
    scene, _ = load_pair(bare("entry-panel-face"), "fixed-2mp-lowlight")
    near = replace(found.light, lamp_m=np.array([0.0, 0.7, 1.62]))
    close = replace(found, scene=scene, light=near)
    out = eye_cautions(close)
    assert values(out, "lighting-eye.near")["away_m"] == pytest.approx(0.5)
    assert values(out, "lighting-eye.too-near")["names"] == ("infrared-850-long",)
    weak = replace(close, search=replace(found.search, chosen=30.0))
    # 30 W/sr at 0.5 m is 120 W/m2
    near = values(eye_cautions(weak), "lighting-eye.near")
    assert near["irradiance_w_m2"] == pytest.approx(120.0)
    assert near["beyond"]


@pytest.mark.invariant
def test_where_a_held_exposure_is_the_answer_it_is_what_is_mounted(found):
    # a sized lamp that works over a narrow window only, and one on sale that works held
    lamp = next(way for way in found.ways if way.sort == "lamp")
    sure = replace(judged(0.99), verdict="legible", shutter_s=0.002, gain_db=12.0)
    held = replace(lamp, name=f"{lamp.name}, held", sort="held", bought=lamp.name, judged=sure)
    least = found.search.chosen
    narrow = replace(
        found.search, least=least, upper=1.2 * least, upper_fails=1.3 * least, fresh=sure
    )
    others = [way for way in found.ways if way.sort != "held"]
    touchy = replace(found, search=narrow, ways=[*others, held])
    assert ids(answer(touchy))[0] == "lighting.yes-held"
    first, then = changes(touchy)[:2]
    assert (first.id, then.id) == (
        "lighting-change.mount-held", "lighting-change.automatic-instead"
    )  # fmt: skip
    told = say(first)
    assert f"{lamp.name} ({lamp.power_w:g} W)" in told
    assert "1/500 s" in told and "12 dB" in told
