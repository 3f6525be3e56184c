"""A real text recogniser reads the delivered pictures: a line-reading network with open weights.

The network (a convolutional and attention encoder with a CTC head; Graves et al. 2006 for CTC, from
memory) comes with the package `rapidocr-onnxruntime` and runs on `onnxruntime`. Neither is needed
to install nightproof; the extra `ocr` brings both. Only the recognising network is used, as it is
known where the text lies: the package's own code, which finds text, is never imported.

It is helped as an integrator would help it: the line is straightened by the homography of its
cells, cut out with a small and a wider margin, brought to the network's 48 rows, each smoothed a
little and more; only characters of the lettering are let through, look-alikes (O and 0, I and 1) as
one; of the four answers the one the network is surest of counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.judge.readers.lines import TextLine
from simulator.units import Image

MODEL_PACKAGE, RUNTIME_PACKAGE = "rapidocr_onnxruntime", "onnxruntime"
MODEL_FILE = Path("models") / "ch_PP-OCRv4_rec_infer.onnx"
LINE_ROWS = 48
"""Height of the network's input [px]."""
MARGINS = (0.1, 0.22)
"""Ground left around the line, as shares of the character height."""
SMOOTHING = (0.04, 0.1)
"""Gaussian blur before reading, as shares of the character height. Margins and smoothings are the
pairs with which the network read most on half of the pictures of `docs/reading.md`."""
BATCH = 24
"""Lines given to the network at a time."""
BLANK = 0
"""The CTC head's class for 'no new character'."""


class Answer(NamedTuple):
    """Symbols read of one line and how sure the network is of them (mean over its characters)."""

    symbols: tuple[int, ...]
    confidence: float


def recogniser_installed() -> bool:
    """Whether the network and its runtime are there."""
    return model_file() is not None and find_spec(RUNTIME_PACKAGE) is not None


def model_file() -> Path | None:
    """The network's file in the installed package; None without it. Nothing is imported."""
    spec = find_spec(MODEL_PACKAGE)
    if spec is None or spec.origin is None:
        return None
    file = Path(spec.origin).parent / MODEL_FILE
    return file if file.is_file() else None


@dataclass(frozen=True, eq=False)
class Network:
    """The recognising network: `characters` are its classes, the first the blank."""

    session: Any
    characters: tuple[str, ...]

    def scores(self, inputs: Image) -> Image:
        """Probability of every class at every step (n, steps, classes) of inputs (n, 3, 48, w)."""
        name = self.session.get_inputs()[0].name
        return np.asarray(self.session.run(None, {name: inputs})[0])


@lru_cache(maxsize=1)
def network(threads: int = 0) -> Network:
    """The installed network, loaded once.

    Parameters
    ----------
    threads
        Threads of the runtime; 0 takes one for each core.

    Raises
    ------
    ModuleNotFoundError
        Without the extra `ocr`.
    """
    file = model_file()
    if file is None:
        raise ModuleNotFoundError(f"{MODEL_PACKAGE} is not installed", name=MODEL_PACKAGE)
    import onnxruntime  # noqa: PLC0415

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    # threads that wait give their processor up, as elsewhere in this package
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    session = onnxruntime.InferenceSession(
        str(file), sess_options=options, providers=["CPUExecutionProvider"]
    )
    listed = session.get_modelmeta().custom_metadata_map["character"].splitlines()
    return Network(session, ("", *listed, " "))


def prepared(luma: Image, line: TextLine, margin: float, smoothing: float) -> Image:
    """Inputs of the network (n, 3, 48, columns) in -1 to 1.

    Parameters
    ----------
    luma
        Pictures (n, rows, columns) [levels of 255].
    line
        Where the line lies in them.
    margin, smoothing
        As shares of the character height.
    """
    scale = LINE_ROWS / (1.0 + 2.0 * margin)
    wide = round((line.aspect + 2.0 * margin) * scale)
    # from pixels to shares of the character height, to samples of the input; centres at halves
    place = np.array(
        [[scale, 0, margin * scale - 0.5], [0, scale, margin * scale - 0.5], [0, 0, 1]]
    )
    centred = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    move = place @ line.to_heights @ centred
    shrink = line.height_px / scale
    sigma = max(smoothing * line.height_px, 0.4 * shrink if shrink > 1.0 else 0.0)
    out = np.empty((len(luma), LINE_ROWS, wide), np.float32)
    for n, picture in enumerate(luma):
        soft = picture
        if sigma > 0.0:
            soft = cv2.GaussianBlur(
                picture, (0, 0), max(sigma, 0.3), borderType=cv2.BORDER_REPLICATE
            )
        cv2.warpPerspective(
            soft, move, (wide, LINE_ROWS), dst=out[n], flags=cv2.INTER_CUBIC,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
    scaled = np.clip(out, 0.0, 255.0) / np.float32(127.5) - np.float32(1.0)
    return np.repeat(scaled[:, None], 3, axis=1)


def class_symbols(characters: tuple[str, ...], alphabet: str, symbols: NDArray[np.int64]) -> Image:
    """Matrix (classes, 1 + symbols) that adds up the classes of one symbol, the blank first."""
    out = np.zeros((len(characters), 2 + int(symbols.max())), np.float32)
    out[BLANK, 0] = 1.0
    for character, symbol in zip(alphabet, symbols, strict=True):
        if character in characters:
            out[characters.index(character), 1 + symbol] = 1.0
    return out


def decoded(probability: Image) -> Answer:
    """Best path through the scores (steps, 1 + symbols) of one line: repeats and blanks dropped."""
    best = probability.argmax(axis=1)
    new = (best != BLANK) & (best != np.concatenate([[BLANK], best[:-1]]))
    if not np.any(new):
        return Answer((), 0.0)
    confidence = probability[np.flatnonzero(new), best[new]]
    return Answer(tuple(int(k) - 1 for k in best[new]), float(confidence.mean()))


def read_lines(
    luma: Image,
    line: TextLine,
    alphabet: str,
    symbols: NDArray[np.int64],
    *,
    margins: tuple[float, ...] = MARGINS,
    smoothing: tuple[float, ...] = SMOOTHING,
) -> list[list[Answer]]:
    """Answers of the network to each picture, one for each margin and smoothing.

    Parameters
    ----------
    luma
        Pictures (n, rows, columns) [levels of 255].
    line
        Where the line lies in them.
    alphabet, symbols
        Characters let through, and the symbol of each (look-alikes share one).
    """
    net = network()
    merge = class_symbols(net.characters, alphabet, symbols)
    kept = np.flatnonzero(merge.any(axis=1))
    merge = merge[kept]
    answers: list[list[Answer]] = [[] for _ in luma]
    for margin in margins:
        for smooth in smoothing:
            inputs = prepared(luma, line, margin, smooth)
            for start in range(0, len(inputs), BATCH):
                scores = net.scores(inputs[start : start + BATCH])[:, :, kept] @ merge
                scores /= np.maximum(scores.sum(axis=2, keepdims=True), 1e-12)
                for n, one in enumerate(scores, start):
                    answers[n].append(decoded(one))
    return answers
