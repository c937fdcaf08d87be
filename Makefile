# On a fresh machine: `make demo` shows the page over the virtual bench, `make test` runs everything.
# Both make their own environment in .venv; nothing outside this folder is changed, except that
# `make test` installs Debian's Chromium where it may. Leave the browser tests out: make test BROWSER=no

PYTHON ?= python3
BROWSER ?= yes
PARALLEL ?= -n 2 --dist loadfile
BIN := .venv/bin
ifeq ($(OS),Windows_NT)
BIN := .venv/Scripts
endif

.PHONY: demo tour test long check pictures bench clean

demo: .venv/app
	$(BIN)/bandwright demo

tour: .venv/app
	$(BIN)/bandwright tour

test: .venv/test
ifeq ($(BROWSER),no)
	$(BIN)/python -m pytest $(PARALLEL) -m "not browser"
else
	$(BIN)/python tests/chromium.py
	$(BIN)/python -m pytest $(PARALLEL)
endif

# The same tests at their full, seeded counts.
long: .venv/test
	$(BIN)/python tests/chromium.py
	BANDWRIGHT_LONG=1 $(BIN)/python -m pytest $(PARALLEL) --timeout 1200

# Format, lint, types, import layers.
check: .venv/test
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/pyright
	$(BIN)/lint-imports

pictures: .venv/test
	$(BIN)/python tests/chromium.py
	$(BIN)/python docs/pictures.py

bench: .venv/test
	$(BIN)/python -m benchmarks

.venv/app: pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "bandwright needs Python 3.11 or newer; name one with make PYTHON=/path/to/python3.11")'
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --editable .
	@touch $@

.venv/test: .venv/app
	$(BIN)/python -m pip install --quiet --editable '.[test]'
	@touch $@

clean:
	rm -rf .venv build dist *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis
