"""Readers of texts: who reads the delivered pictures, and how well."""

from simulator.judge.readers.named import MACHINE, PERSON, READERS, RECOGNISER, reader_of
from simulator.judge.readers.reader import Reader
from simulator.judge.readers.template_reader import TemplateReader

__all__ = [
    "MACHINE",
    "PERSON",
    "READERS",
    "RECOGNISER",
    "Reader",
    "TemplateReader",
    "reader_of",
]
