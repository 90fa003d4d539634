# Two commands do everything on a fresh machine with Python 3.11: make demo, make test.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed

.PHONY: demo serve test browser check lint types imports lock pictures bench measured uncertainty clean

demo: $(STAMP)
	$(BIN)/needlewright demo --out demo-papers

# The page, on this machine alone, with an invented shop in it.
serve: $(STAMP)
	$(BIN)/needlewright serve --demo

# At its end: what failed, what was skipped and why, and what took longest.
test: $(STAMP) browser
	$(BIN)/python -m pytest -n 3 --dist worksteal -r fEs --durations 20 --durations-min 3

# What the tests of the page need beside Python; without it they are skipped and say so.
browser:
	command -v chromium >/dev/null || { apt-get update -q && apt-get install -y -q chromium; } || true
	if command -v npm >/dev/null && [ -f tests/web/package.json ] \
		&& [ ! -d tests/web/node_modules/axe-core ]; then \
		npm --prefix tests/web install --no-audit --no-fund --silent || true; fi

check: lint types imports test

lint: $(STAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/pydoclint src

types: $(STAMP)
	$(BIN)/mypy

imports: $(STAMP)
	$(BIN)/lint-imports

bench: $(STAMP)
	$(BIN)/python benchmarks/reading.py
	$(BIN)/python benchmarks/page.py

measured: $(STAMP)
	$(BIN)/python benchmarks/reading.py --json docs/measured/reading.json
	$(BIN)/python docs/make_measured.py

# Draws and reads 624 photos: a quarter of an hour. A missed gate is printed and written all the same.
uncertainty: $(STAMP)
	-$(BIN)/python benchmarks/coverage.py --json docs/measured/coverage.json
	-$(BIN)/python benchmarks/efficiency.py --json docs/measured/efficiency.json
	$(BIN)/python docs/make_uncertainty.py

pictures: $(STAMP)
	$(BIN)/python docs/follow_guide.py
	$(BIN)/python docs/make_pictures.py
	$(BIN)/python docs/make_commands.py

$(STAMP): requirements.lock pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --no-deps --no-build-isolation --editable .
	touch $(STAMP)

# Rewrites the lock: names, versions and hashes only, no address of any index.
lock:
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet uv
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --extra dev --generate-hashes \
		--no-emit-index-url --no-header pyproject.toml \
		--output-file requirements.lock

clean:
	rm -rf $(VENV) demo-papers demo-shop
