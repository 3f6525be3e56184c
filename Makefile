PYTHON ?= python3
BIN := .venv/bin

.PHONY: demo test check docs bench lowest newest clean

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

# The documents as pages, in build/docs; a broken link or reference is an error.
docs: .venv/.run
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable ".[docs]"
	$(BIN)/mkdocs build --quiet --strict --site-dir build/docs

# One table: what commands and answers take, and how the cost grows.
bench: .venv/.dev
	$(BIN)/python benchmarks/table.py
	$(BIN)/python -m pytest benchmarks -p no:cacheprovider --benchmark-only

# The lowest and the newest versions that pyproject.toml allows, each in an environment of its own:
# the main job, and the tests of files, commands, light and cameras.
VERSIONS := tests/files tests/app tests/light tests/camera tests/test_import_order.py tests/test_domain.py

lowest:
	$(PYTHON) -m venv build/lowest
	$(PYTHON) tools/lowest.py test > build/lowest.txt
	build/lowest/bin/pip install --quiet --disable-pip-version-check --requirement build/lowest.txt
	build/lowest/bin/pip install --quiet --disable-pip-version-check --no-deps --editable .
	build/lowest/bin/nightproof predict depot-gate-infrared --camera plate-2mp-infrared --no-reserve --no-tolerances
	build/lowest/bin/python -m pytest -p no:cacheprovider $(VERSIONS)

newest:
	$(PYTHON) -m venv build/newest
	build/newest/bin/pip install --quiet --disable-pip-version-check --upgrade --upgrade-strategy eager --editable ".[test]"
	build/newest/bin/nightproof predict depot-gate-infrared --camera plate-2mp-infrared --no-reserve --no-tolerances
	build/newest/bin/python -m pytest -p no:cacheprovider $(VERSIONS)

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
