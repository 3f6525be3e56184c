"""What a real codec leaves of the pictures: encoded, and decoded again.

Pictures go to Y'CbCr 4:2:0 in the narrow range of ITU-R BT.709, through an encoder of H.264 or
H.265 without B pictures, as cameras send, and back. The rate control is a steady quantiser: the
quantiser parameter at which a key picture and the predicted pictures that follow it up to the next
spend the bit rate on the mean,

    R = f [B_key + (n - 1) B_predicted] / n,    n = f x time between key pictures

A real rate control wanders about that (buffer model, scene changes); it is not modelled. Needs
PyAV (the extra `codec`); one thread, so that the same pictures give the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.model_processing import Stream
from simulator.domain import require
from simulator.errors import InputError

Bytes = NDArray[np.uint8]
BEST_QP, WORST_QP = 4, 51
BLOCK = 16
"""Sides of pictures are made whole multiples of a macroblock [px]."""
KR, KB = 0.2126, 0.0722
_NAMES = {"h264": "libx264", "h265": "libx265"}
_DECODERS = {"h264": "h264", "h265": "hevc"}


@dataclass(frozen=True)
class Coded:
    """Pictures after the codec.

    Attributes
    ----------
    frames
        Pictures, uint8 (n, rows, columns, 3).
    bits
        Size of every picture (n,), the first a key picture [bit].
    qp
        Quantiser parameter.

    Examples
    --------
    >>> pictures = np.full((2, 32, 32, 3), 90, np.uint8)
    >>> found = coded(pictures, "h264", 20)
    >>> found.qp, found.frames.shape, bool(found.bits[0] > found.bits[1])
    (20, (2, 32, 32, 3), True)
    """

    frames: Bytes
    bits: NDArray[np.int64]
    qp: int


def to_420(picture: Bytes) -> Bytes:
    """Planar Y'CbCr 4:2:0, narrow range, BT.709: (rows * 3 / 2, columns) of RGB (rows, columns, 3).

    Rows and columns must be even; chroma is the mean of two by two pixels.
    """
    rgb = picture.astype(np.float32)
    y = KR * rgb[:, :, 0] + (1.0 - KR - KB) * rgb[:, :, 1] + KB * rgb[:, :, 2]
    half = (picture.shape[1] // 2, picture.shape[0] // 2)
    planes = [16.0 + y * (219.0 / 255.0)]
    for channel, weight in ((2, KB), (0, KR)):
        difference = (rgb[:, :, channel] - y) / (2.0 * (1.0 - weight))
        small = cv2.resize(difference, half, interpolation=cv2.INTER_AREA)
        planes.append(128.0 + small * (224.0 / 255.0))
    flat = np.concatenate([p.reshape(-1) for p in planes])
    rows, columns = picture.shape[:2]
    return np.clip(np.rint(flat), 0, 255).astype(np.uint8).reshape(rows * 3 // 2, columns)


def from_420(planes: Bytes) -> Bytes:
    """RGB (rows, columns, 3) of what `to_420` gives; chroma is interpolated."""
    rows, columns = planes.shape[0] * 2 // 3, planes.shape[1]
    flat, size = planes.reshape(-1), planes.shape[0] * 2 // 3 * columns
    y = (flat[:size].reshape(rows, columns).astype(np.float32) - 16.0) * (255.0 / 219.0)
    wide = []
    for k in range(2):
        part = flat[size + k * size // 4 : size + (k + 1) * size // 4]
        small = (part.reshape(rows // 2, columns // 2).astype(np.float32) - 128.0) * (255.0 / 224.0)
        wide.append(cv2.resize(small, (columns, rows), interpolation=cv2.INTER_LINEAR))
    blue = y + 2.0 * (1.0 - KB) * wide[0]
    red = y + 2.0 * (1.0 - KR) * wide[1]
    green = (y - KR * red - KB * blue) / (1.0 - KR - KB)
    return np.clip(np.rint(np.stack([red, green, blue], axis=-1)), 0, 255).astype(np.uint8)


def _library() -> Any:
    try:
        import av  # noqa: PLC0415  only for cameras with a codec
    except ImportError:
        raise InputError(
            "The codec needs PyAV, which is not installed.",
            key="stream.codec",
            allowed='"none", or the extra: pip install "nightproof[codec]"',
            fix='install the extra, or set stream.codec to "none"',
        ) from None
    return av


def _encoder(av: Any, codec: str, qp: int, columns: int, rows: int, rate: float) -> Any:
    context = av.CodecContext.create(_NAMES[codec], "w")
    context.width, context.height, context.pix_fmt = columns, rows, "yuv420p"
    context.framerate = Fraction(rate).limit_denominator(1001)
    context.time_base = 1 / context.framerate
    context.thread_count = 1
    context.gop_size = 100_000
    if codec == "h264":
        context.options = {
            "qp": str(qp), "preset": "veryfast", "tune": "zerolatency", "bf": "0",
            "x264-params": "scenecut=0:aq-mode=0:log-level=-1",
        }  # fmt: skip
    else:
        context.options = {
            "preset": "superfast",
            "x265-params": f"qp={qp}:pools=none:frame-threads=1:bframes=0:rc-lookahead=0:"
            "scenecut=0:aq-mode=0:keyint=100000:log-level=none",
        }
    return context


def coded(frames: Bytes, codec: str, qp: int, frame_rate_hz: float = 25.0) -> Coded:
    """Pictures (n, rows, columns, 3) encoded at a quantiser and decoded; the first is a key one.

    Sides that are no multiple of `BLOCK` are filled up by repeating the last row and column.

    Raises
    ------
    InputError
        If PyAV is not installed.
    """
    av = _library()
    n, rows, columns = frames.shape[:3]
    fill = ((0, 0), (0, -rows % BLOCK), (0, -columns % BLOCK), (0, 0))
    whole = np.pad(frames, fill, mode="edge")
    encoder = _encoder(av, codec, qp, whole.shape[2], whole.shape[1], frame_rate_hz)
    decoder = av.CodecContext.create(_DECODERS[codec], "r")
    decoder.thread_count = 1
    bits: list[int] = []
    encoded: list[Bytes] = []

    def take(packets: Any) -> None:
        for packet in packets:
            bits.append(8 * packet.size)
            encoded.extend(f.to_ndarray(format="yuv420p") for f in decoder.decode(packet))

    for k in range(n):
        picture = av.VideoFrame.from_ndarray(to_420(whole[k]), format="yuv420p")
        picture.pts = k
        take(encoder.encode(picture))
    take(encoder.encode(None))
    encoded.extend(f.to_ndarray(format="yuv420p") for f in decoder.decode(None))
    if len(encoded) != n or len(bits) != n:
        raise RuntimeError(f"the codec gave {len(encoded)} pictures in {len(bits)} packets for {n}")
    out = np.stack([from_420(planes)[:rows, :columns] for planes in encoded])
    return Coded(out, np.array(bits, dtype=np.int64), qp)


def mean_rate_kbit_s(bits: NDArray[np.int64], stream: Stream, frame_rate_hz: float) -> float:
    """Mean bit rate of a stream whose key and predicted pictures cost this much.

    R = f [B_key + (n - 1) B_predicted] / n,  n = f x time between key pictures.

    Parameters
    ----------
    bits
        Size of a key picture, then of predicted ones (n,), at least two [bit].
    stream
        The time between key pictures.
    frame_rate_hz
        f, above 0 [Hz].

    Returns
    -------
    float
        Mean bit rate [kbit/s].

    Raises
    ------
    InputError
        For fewer than two pictures or a frame rate of 0 or less.

    References
    ----------
    Mean over one group of pictures (arithmetic).

    Examples
    --------
    >>> sizes = np.array([100_000, 15_000, 15_000])
    >>> mean_rate_kbit_s(sizes, Stream(keyframe_interval_s=0.4), 25.0)
    587.5
    """
    require("bits", len(bits), least=2.0, unit="pictures")
    require("frame_rate_hz", frame_rate_hz, above=0.0, unit="Hz")
    group = max(1.0, round(stream.keyframe_interval_s * frame_rate_hz))
    each = float(bits[0]) + (group - 1.0) * float(bits[1:].mean())
    return each / group * frame_rate_hz / 1000.0


def steady_quantiser(
    frames: Bytes,
    stream: Stream,
    frame_rate_hz: float,
    say: Callable[[int], None] | None = None,
) -> Coded:
    """Pictures after the codec, at the finest quantiser that keeps to the bit rate.

    Bisection over the quantiser, whose bit rate falls as it grows; where even the coarsest exceeds
    the bit rate, the coarsest is kept (a real camera would drop pictures).

    Parameters
    ----------
    frames
        Pictures, uint8 (n, rows, columns, 3), n at least two.
    stream
        Codec, bit rate and time between key pictures.
    frame_rate_hz
        Above 0 [Hz].
    say
        Called with every quantiser that is tried.

    Returns
    -------
    Coded
        The pictures, their sizes and the quantiser.

    Raises
    ------
    InputError
        If PyAV is not installed, for fewer than two pictures or a frame rate of 0 or less.

    References
    ----------
    ITU-T H.264 and H.265 by PyAV; ITU-R BT.709 (narrow range).

    Examples
    --------
    >>> frames = np.full((2, 64, 64, 3), 90, np.uint8)
    >>> found = steady_quantiser(frames, Stream(codec="h264", bitrate_kbit_s=500.0), 25.0)
    >>> found.frames.shape, len(found.bits)
    ((2, 64, 64, 3), 2)
    """
    require("frames", len(frames), least=2.0, unit="pictures")
    low, high = BEST_QP - 1, WORST_QP
    best: Coded | None = None
    while high - low > 1:
        middle = (low + high) // 2
        if say is not None:
            say(middle)
        tried = coded(frames, stream.codec, middle, frame_rate_hz)
        if mean_rate_kbit_s(tried.bits, stream, frame_rate_hz) <= stream.bitrate_kbit_s:
            high, best = middle, tried
        else:
            low = middle
    return best if best is not None else coded(frames, stream.codec, WORST_QP, frame_rate_hz)


def tiled(regions: Bytes, columns: int) -> Bytes:
    """Patches (n, frames, rows, width, 3) side by side on pictures (frames, ..., ..., 3).

    Every patch starts on a macroblock and is filled up to the next by repeating its rim, with one
    macroblock of that between neighbours, so that prediction across them matters little.
    """
    n, frames, rows, width = regions.shape[:4]
    high, wide = (side + (-side % BLOCK) + BLOCK for side in (rows, width))
    across = max(1, columns // wide)
    down = -(-n // across)
    out = np.zeros((frames, down * high, across * wide, 3), np.uint8)
    fill = ((0, 0), (0, high - rows), (0, wide - width), (0, 0))
    for k in range(n):
        y, x = k // across * high, k % across * wide
        out[:, y : y + high, x : x + wide] = np.pad(regions[k], fill, mode="edge")
    return out


def untiled(pictures: Bytes, shape: tuple[int, int, int], columns: int) -> Bytes:
    """Patches (n, frames, rows, width, 3) out of what `tiled` made; `shape` is n, rows, width."""
    n, rows, width = shape
    high, wide = (side + (-side % BLOCK) + BLOCK for side in (rows, width))
    across = max(1, columns // wide)
    out = np.empty((n, pictures.shape[0], rows, width, 3), np.uint8)
    for k in range(n):
        y, x = k // across * high, k % across * wide
        out[k] = pictures[:, y : y + rows, x : x + width]
    return out
