"""Read prepared pictures with the OCR engine; run by tools/calibrate_reader.py.

    python tools/ocr_worker.py PICTURES.npz ANSWERS.json ALPHABET

Needs `rapidocr-onnxruntime` (its recognition model comes in the wheel) and no part of nightproof,
so that the engine can live in an environment of its own. The engine is given what helps it most:
the line cut out with a small and with a wider margin, enlarged smoothly to the height of its input,
as it is and three times smoothed against noise; only characters of the alphabet are let through its
decoder; of the eight readings the one it is surest of counts. Margins and smoothings were chosen by
how much the engine reads in all (more smoothing, sharpening and stretched contrast lowered it).
"""

from __future__ import annotations

import json
import sys
from importlib.metadata import version
from pathlib import Path

import cv2
import numpy as np
import rapidocr_onnxruntime
import yaml
from rapidocr_onnxruntime.ch_ppocr_rec.text_recognize import TextRecognizer

LINE_ROWS = 48
MARGIN_SHARES = (0.22, 0.34)
"""Ground left around the line, as shares of the character height."""
SMOOTHING = (0.0, 0.04, 0.07, 0.1)
"""Gaussian blur before reading, as a share of the character height; the first is none."""


def engine():
    """The engine's text recogniser and its characters."""
    root = Path(rapidocr_onnxruntime.__file__).parent
    config = yaml.safe_load((root / "config.yaml").read_text())["Rec"]
    config.update(
        model_path=str(root / "models" / Path(config["model_path"]).name),
        use_cuda=False,
        use_dml=False,
        intra_op_num_threads=2,
        inter_op_num_threads=1,
    )
    reader = TextRecognizer(config)
    return reader.session, list(reader.postprocess_op.character)


def prepare(picture, box, smoothing, margin_share):
    """Input of the network: the line at its height, (3, 48, columns) in -1..1.

    `box` is left, top, right, bottom of the text [px].
    """
    left, top, right, bottom = box
    high = bottom - top
    margin = margin_share * high
    scale = LINE_ROWS / (high + 2 * margin)
    grey = picture.astype(np.float32)
    if smoothing > 0.0:
        sigma = smoothing * high
        grey = cv2.GaussianBlur(grey, (0, 0), max(sigma, 0.3), borderType=cv2.BORDER_REPLICATE)
    elif scale < 1.0:
        grey = cv2.GaussianBlur(grey, (0, 0), 0.4 / scale, borderType=cv2.BORDER_REPLICATE)
    columns = round((right - left + 2 * margin) * scale)
    move = np.array([[scale, 0, (margin - left + 0.5) * scale - 0.5],
                     [0, scale, (margin - top + 0.5) * scale - 0.5]])  # fmt: skip
    out = cv2.warpAffine(
        grey, move, (columns, LINE_ROWS), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    return np.repeat((np.clip(out, 0, 255) / 127.5 - 1.0)[None], 3, axis=0)


def decode(scores, allowed, characters):
    """Text and mean confidence of one output (steps, characters), allowed ones only."""
    masked = scores[:, allowed]
    masked = masked / np.maximum(masked.sum(axis=1, keepdims=True), 1e-12)
    best = masked.argmax(axis=1)
    text, sure, last = [], [], 0
    for step, k in enumerate(best):
        if k not in (0, last):
            text.append(characters[allowed[k]])
            sure.append(masked[step, k])
        last = k
    return "".join(text), float(np.mean(sure)) if sure else 0.0


def main() -> None:
    pictures, answers, alphabet = sys.argv[1:4]
    session, characters = engine()
    allowed = np.array([0] + [characters.index(c) for c in alphabet])
    stored = np.load(pictures)
    out = []
    for n, box in enumerate(stored["boxes"]):
        picture = stored[f"p{n}"]
        readings = []
        for margin in MARGIN_SHARES:
            inputs = [prepare(picture, box, smoothing, margin) for smoothing in SMOOTHING]
            scores = session(np.stack(inputs).astype(np.float32))[0]
            readings += [decode(one, allowed, characters) for one in scores]
        out.append(readings)
    result = {"engine": f"rapidocr-onnxruntime {version('rapidocr-onnxruntime')}",
              "runtime": f"onnxruntime {version('onnxruntime')}",
              "readings": out}  # fmt: skip
    Path(answers).write_text(json.dumps(result))


if __name__ == "__main__":
    main()
