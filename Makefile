# Each target sets itself up: all that is needed is Python 3.11 or newer and make.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/ready
DEMO := cross_fall

.PHONY: help demo test check bench mutants docs samples clean

help:
	@echo "make demo     plan a sample yard and say where the sheets are"
	@echo "make test     lint, types and tests: what continuous integration runs"
	@echo "make check    lint, format and types alone"
	@echo "make docs     write again the pages and pictures made from the code and the samples"
	@echo "make samples  write again the invented sample surveys"
	@echo "make bench    speed, as ratios"
	@echo "make mutants  flip each sign of the geometry: a named test must fail (slow)"

$(READY): pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit("Python 3.11 or newer is needed, this is " + sys.version.split()[0] + "; try make PYTHON=python3.12") if sys.version_info < (3, 11) else None'
	@echo "setting up $(VENV) (once)"
	@$(PYTHON) -m venv $(VENV)
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check -e '.[dev]'
	@touch $@

demo: $(READY)
	$(BIN)/staking plan sample_surveys/$(DEMO) --out out/$(DEMO)

check: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

# A file's tests stay together, for they share what they have read; one thread each, or workers wait for another.
test: check
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest --numprocesses auto --maxprocesses 8 --dist loadfile

bench: $(READY)
	$(BIN)/python -m benchmarks

mutants: $(READY)
	$(BIN)/python -m benchmarks.mutants

docs: $(READY)
	$(BIN)/python -m docs.make

samples: $(READY)
	$(BIN)/python sample_surveys/invent.py

clean:
	rm -rf $(VENV) out build *.egg-info .mypy_cache .ruff_cache
