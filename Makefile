PYTHON ?= python3
BIN := .venv/bin

.PHONY: demo test check bench clean

# The main job: will the plate be readable at the gate at night? With a camera made for plates, and
# with an overview camera whose own infrared washes the plate out. The first run compiles the
# kernels, in several processes; they are kept for later ones.
demo: .venv/.run
	$(BIN)/nightproof warm
	$(BIN)/nightproof predict depot-gate-infrared --camera plate-2mp-infrared
	$(BIN)/nightproof predict depot-gate-infrared --camera fixed-2mp-lowlight

# Everything that must pass before a change is kept.
test: check
	$(BIN)/python -m pytest -n 2 --dist loadfile -p no:benchmark

check: .venv/.dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

# One table: what commands and answers take, and how the cost grows.
bench: .venv/.dev
	$(BIN)/python benchmarks/table.py
	$(BIN)/python -m pytest benchmarks -p no:cacheprovider --benchmark-only

clean:
	rm -rf .venv build dist

.venv/bin/python:
	$(PYTHON) -m venv .venv

.venv/.run: .venv/bin/python pyproject.toml
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable .
	touch $@

.venv/.dev: .venv/bin/python pyproject.toml
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable ".[test,dev]"
	touch $@ .venv/.run
