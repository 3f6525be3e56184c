"""Read prepared pictures with the OCR engine; run by tools/calibrate_reader.py.

    python tools/ocr_worker.py PICTURES.npz ANSWERS.json ALPHABET

Needs `rapidocr-onnxruntime` (its recognition model comes in the wheel) and no part of nightproof,
so that the engine can live in an environment of its own. The engine is given what helps it most:
the line cut out with a small margin, enlarged smoothly to the height of its input, once as it is
and once smoothed against noise; only characters of the alphabet are let through its decoder; of
the readings the one it is surest of counts.
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
MARGIN_SHARE = 0.22
SMOOTHING = (0.0, 0.07)
"""Gaussian blur before reading, as a share of the character height; the first is none."""
BATCH = 8


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


def prepare(picture, box, smoothing):
    """Input of the network: the line at its height, (3, 48, columns) in -1..1.

    `box` is left, top, right, bottom of the text [px].
    """
    left, top, right, bottom = box
    high = bottom - top
    margin = MARGIN_SHARE * high
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
    boxes = stored["boxes"]
    count = len(boxes)
    out = []
    for first in range(0, count, BATCH):
        some = range(first, min(count, first + BATCH))
        inputs = [prepare(stored[f"p{i}"], boxes[i], s) for i in some for s in SMOOTHING]
        wide = max(x.shape[2] for x in inputs)
        batch = np.zeros((len(inputs), 3, LINE_ROWS, wide), np.float32)
        for row, x in zip(batch, inputs, strict=True):
            row[:, :, : x.shape[2]] = x
        scores = session(batch)[0]
        for n, _ in enumerate(some):
            readings = [
                decode(scores[n * len(SMOOTHING) + k], allowed, characters)
                for k in range(len(SMOOTHING))
            ]
            out.append(readings)
    result = {"engine": f"rapidocr-onnxruntime {version('rapidocr-onnxruntime')}",
              "runtime": f"onnxruntime {version('onnxruntime')}",
              "readings": out}  # fmt: skip
    Path(answers).write_text(json.dumps(result))


if __name__ == "__main__":
    main()
