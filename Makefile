# The whole house in a few commands. Each sets up what it needs in .venv, and needs only Python 3.11.
PYTHON ?= $(shell command -v python3.11 || command -v python3)
BIN := .venv/bin
SOURCES := controller web tests

.PHONY: demo test check format docs pictures bench campaign cover mutate setup lock clean

demo: .venv/ready web/static/vendor/ready ## the main job: a whole burnout on a simulated kiln
	$(BIN)/stokehold demo $(ARGS)

# Three at a time on two cores: a good part of the time is spent waiting for a kiln. Compiled code is kept
# whatever the surroundings say: the tests start some hundred processes.
test: .venv/ready-dev web/node_modules/ready-tests ## every test
	PYTHONDONTWRITEBYTECODE= $(BIN)/pytest --numprocesses 3 --dist loadfile --no-loadscope-reorder $(ARGS)

check: .venv/ready-dev ## format, lint, strict types, import contracts
	$(BIN)/ruff format --check $(SOURCES)
	$(BIN)/ruff check $(SOURCES)
	$(BIN)/mypy
	$(BIN)/lint-imports

format: .venv/ready-dev ## put the code in the house's format
	$(BIN)/ruff format $(SOURCES)
	$(BIN)/ruff check --fix $(SOURCES)

docs: .venv/ready-dev ## write the parts of the pages that are made from the code
	$(BIN)/python -m tests.docs

pictures: .venv/ready-dev web/static/vendor/ready ## take the pictures of the README anew (needs Chromium)
	$(BIN)/python -m tests.docs.pictures

bench: .venv/ready-dev web/node_modules/ready-tests ## speed and quality, as a table and as build/bench.json
	$(BIN)/python -m tests.bench $(ARGS)

campaign: .venv/ready-dev web/static/vendor/ready ## faults on many kilns, kills at many moments; takes an hour
	$(BIN)/python -m tests.campaign $(ARGS)

cover: .venv/ready-dev ## every line and branch of the guard and the state table is run by their tests
	$(BIN)/pytest tests/guard tests/firing/test_states.py --cov=controller.guard --cov=controller.firing.states \
	    --cov-branch --cov-report=term-missing --cov-fail-under=100 $(ARGS)

mutate: .venv/ready-dev ## change guard and state table in every small way; can be broken off and gone on with
	$(BIN)/python -m tests.mutate $(ARGS)

setup: .venv/ready web/static/vendor/ready ## only set up

lock: ## pin the newest versions (needs uv)
	uv pip compile -q --generate-hashes --universal --python-version 3.11 --no-emit-index-url --no-annotate --no-header requirements.in -o requirements.lock
	uv pip compile -q --generate-hashes --universal --python-version 3.11 --no-emit-index-url --no-annotate --no-header requirements-dev.in -o requirements-dev.lock

.venv/bin/python:
	@test -n "$(PYTHON)" || { echo "Python 3.11 was not found; install it, or say where it is: make PYTHON=/path/to/python3.11"; exit 2; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "$(PYTHON) is older than Python 3.11"; exit 2; }
	$(PYTHON) -m venv .venv

# The locks name everything, so nothing is looked for beside them: pip would go for the newest of what a locked
# package asks for with extras, and fail from the day on which there is one that is newer than the lock.
.venv/ready: requirements.lock pyproject.toml | .venv/bin/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	@touch $@

.venv/ready-dev: requirements-dev.lock .venv/ready
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --require-hashes -r requirements-dev.lock
	@touch $@

web/static/vendor/ready: web/package.json web/package-lock.json web/build_assets.py web/icons.py web/static/icon.svg | .venv/ready
	$(BIN)/python web/build_assets.py
	@touch $@

# What only the tests of the page take from npm.
web/node_modules/ready-tests: web/static/vendor/ready
	$(BIN)/python web/build_assets.py --tests
	@touch $@

clean: ## forget everything that was built
	rm -rf .venv build web/node_modules web/static/vendor *.egg-info
	find $(SOURCES) -name __pycache__ -prune -exec rm -rf {} +
