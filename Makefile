# On a fresh machine: `make demo` shows the page over the virtual bench, `make test` runs everything.
# Both make their own environment in .venv; nothing outside this folder is changed, except that
# `make test` installs Debian's Chromium where it may. Leave the browser tests out: make test BROWSER=no

PYTHON ?= python3
BROWSER ?= yes
# Two workers a processor (tests/conftest.py): half of the time one waits.
PARALLEL ?= -n auto --dist worksteal
BIN := .venv/bin
TOOLS = $(subst .venv,.venv/tools,$(BIN))
ifeq ($(OS),Windows_NT)
BIN := .venv/Scripts
endif

.PHONY: demo tour test quick long check pictures docs bench lock audit licences clean

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

# Between two edits: no browser, no process, nothing that takes seconds; it says what it left out.
quick: .venv/test
	BANDWRIGHT_COUNTS=quick $(BIN)/python -m pytest -q -n 2 --dist worksteal

# The same tests at their full, seeded counts, of 1,000 and more.
long: .venv/test
	$(BIN)/python tests/chromium.py
	BANDWRIGHT_COUNTS=long $(BIN)/python -m pytest $(PARALLEL) --timeout 3600

# Format, lint, types, import layers.
check: .venv/test
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/pyright
	$(BIN)/lint-imports

pictures: .venv/test
	$(BIN)/python docs/house_picture.py
	$(BIN)/python docs/byte_picture.py
	$(BIN)/python tests/chromium.py
	$(BIN)/python docs/pictures.py

# The documentation as a site, strict: a link that leads nowhere ends it. Nothing is asked of a network.
docs: .venv/test
	$(BIN)/python -m sphinx -q -W --keep-going -b html -c docs/site . build/site
	@echo "Open build/site/index.html."

bench: .venv/test
	$(BIN)/python -m benchmarks

# What is installed, to the byte: made anew after a change of the dependencies in pyproject.toml.
LOCK := --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-annotate
lock: .venv/tools
	UV_CUSTOM_COMPILE_COMMAND="make lock" $(TOOLS)/uv pip compile pyproject.toml $(LOCK) --quiet -o requirements.lock
	UV_CUSTOM_COMPILE_COMMAND="make lock" $(TOOLS)/uv pip compile pyproject.toml --extra test -c requirements.lock $(LOCK) --quiet -o requirements-test.lock
	UV_CUSTOM_COMPILE_COMMAND="make lock" $(TOOLS)/uv pip compile --group tools $(LOCK) --quiet -o requirements-tools.lock
	@echo "Now run make licences."

# Known weaknesses of what is installed, asked of the package registry. It fails, too, where one of the
# packages could not be looked at (--strict): what nobody looked at is not known to be sound.
audit: .venv/tools
	$(TOOLS)/pip-audit --strict --require-hashes --disable-pip --progress-spinner off -r requirements.lock -r requirements-test.lock -r requirements-tools.lock

# The licences of what is installed with the program, in the one file that is shipped with it.
licences: .venv/app
	$(BIN)/python docs/licences.py

.venv/app: pyproject.toml requirements.lock
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "bandwright needs Python 3.11 or newer; name one with make PYTHON=/path/to/python3.11")'
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --no-deps --editable .
	@touch $@

.venv/test: .venv/app requirements-test.lock
	$(BIN)/python -m pip install --quiet --require-hashes -r requirements-test.lock
	@touch $@

.venv/tools: requirements-tools.lock
	$(PYTHON) -m venv .venv/tools
	$(TOOLS)/python -m pip install --quiet --require-hashes -r requirements-tools.lock
	@touch $@

clean:
	rm -rf .venv build dist *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis
