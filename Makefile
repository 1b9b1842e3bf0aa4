# Every command sets up what it needs the first time (a .venv beside this file) and starts at once after that.
# Needs: Python 3.11 or newer, make, git. Another Python: make PYTHON=/path/to/python3 …

PYTHON ?= python3
# How many tests run side by side, and anything else pytest knows: make test TESTS="tests/machine -k nuts"
TESTS ?=
WORKERS ?= -n auto --dist worksteal
# Where our own code is; a folder that is not there yet is left out.
CODE = $(wildcard src tests tools benchmarks build_backend)
# Tools are started through Python: their own scripts name the folder they were installed in, which may have moved.
RUN = .venv/bin/python -m
# What Python and pytest compiled is kept, whatever the shell says: the tests begin seconds sooner.
unexport PYTHONDONTWRITEBYTECODE
# The lock files serve all these at once; uv keeps the versions that stand in them unless told to upgrade.
LOCK = uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header \
	--annotation-style line $(UPGRADE) pyproject.toml

.PHONY: help demo test check format bench outside faults docs site lock setup setup-run have-python

help: ## this list
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z-]+):.*## (.*)/  make \1|\2/' | awk -F'|' '{printf "%-16s %s\n", $$1, $$2}'

demo: setup-run ## the main job on the demo machine: check it, then list what it needs
	@.venv/bin/python tools/demo.py

test: setup ## the whole suite
	@$(RUN) pytest $(WORKERS) $(TESTS)

check: setup ## format, lint, types and the fast tests, within a minute
	@$(RUN) ruff format --check $(CODE)
	@$(RUN) ruff check $(CODE)
	@$(RUN) mypy --strict src
	@.venv/bin/python tools/typescript.py
	@$(RUN) pytest $(WORKERS) -m "not slow and not browser" $(TESTS)

format: setup ## bring the code into its format and mend what the linter can mend
	@$(RUN) ruff check --fix --quiet $(CODE) || true
	@$(RUN) ruff format $(CODE)

bench: setup ## how fast it is on this computer
	@$(RUN) benchmarks --keep

outside: setup ## our answers against judges that are not ours
	@.venv/bin/python tools/outside.py

faults: setup ## ten minutes of kills, full disks, spoiled files, races and nonsense (SECONDS=, SEED=)
	@.venv/bin/python tools/faults.py --keep --seconds $(or $(SECONDS),600) --seed $(or $(SEED),1)

docs: setup ## write the pages of docs/ that are derived from the program
	@.venv/bin/python tools/docs.py
	@.venv/bin/python tools/format_tables.py
	@.venv/bin/python tools/picture.py
	@.venv/bin/python tools/drawings.py
	@.venv/bin/python tools/pages.py

site: setup ## the pages of docs/ as a static site in build/site, to be opened or put anywhere
	@$(RUN) sphinx -E -b html -W --keep-going -q -c tools/site docs build/site
	@echo "build/site/index.html"

lock: ## write the lock files anew after a change in pyproject.toml (needs uv; UPGRADE=--upgrade for newer versions)
	@command -v uv >/dev/null || { echo "make lock needs uv: pip install uv"; exit 1; }
	@$(LOCK) --output-file requirements.lock
	@$(LOCK) --group dev --constraint requirements.lock --output-file requirements-dev.lock
	@$(filter-out pyproject.toml,$(LOCK)) --no-deps --group data --output-file requirements-data.lock
	@$(filter-out pyproject.toml,$(LOCK)) --group node --output-file requirements-node.lock

setup: have-python ## set up for the tests and checks
	@$(PYTHON) tools/set_up.py test

setup-run: have-python
	@$(PYTHON) tools/set_up.py run

have-python:
	@command -v $(PYTHON) >/dev/null || { echo "No $(PYTHON) here. On Debian or Ubuntu: sudo apt-get install python3 python3-venv"; exit 1; }
