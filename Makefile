# `make` or `make help` lists the targets. Nothing needs installing beforehand but Python
# 3.11 to 3.13 and make itself: the first target that needs .venv makes it from the locks.
SHELL := /bin/sh
.DEFAULT_GOAL := help

VENV := .venv
BIN := $(VENV)/bin
RUNTIME := $(VENV)/.runtime-installed
DEV := $(VENV)/.dev-installed

.PHONY: help
help: ## list every target with one line
	@awk -F ':.*## ' '/^[a-z-]+:.*## / {printf "  %-12s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

# --- the environment -------------------------------------------------------------------------

$(RUNTIME): requirements.lock requirements-uv.lock
	@VENV=$(VENV) .ci/environment runtime

# Both stamps are written by one installation: the dev set holds the runtime set.
$(DEV): requirements-dev.lock requirements-uv.lock
	@VENV=$(VENV) .ci/environment dev

.PHONY: venv
venv: $(DEV) ## make or update .venv with everything (the other targets do it by themselves)

# Pins stay as they are unless pyproject.toml says otherwise or UPGRADE=1 is given. The dev set is
# resolved under the runtime set's pins, so that what is tested is what is run.
LOCK := UV_PYTHON_DOWNLOADS=never UV_CUSTOM_COMPILE_COMMAND="make lock" $(BIN)/uv pip compile \
  --quiet --universal --python-version 3.11 --generate-hashes

.PHONY: lock
lock: $(DEV) ## write the lock files anew from pyproject.toml (UPGRADE=1 takes newer releases)
	@$(LOCK) $(if $(UPGRADE),--upgrade) --group uv -o requirements-uv.lock pyproject.toml
	@$(LOCK) $(if $(UPGRADE),--upgrade) --group runtime -o requirements.lock pyproject.toml
	@$(LOCK) $(if $(UPGRADE),--upgrade) --group dev -c requirements.lock \
	  -o requirements-dev.lock pyproject.toml
	@grep -c '==' requirements.lock requirements-dev.lock requirements-uv.lock

# --- running it ------------------------------------------------------------------------------

# On SQLite, whatever database and broker the environment names.
MANAGE := env -u DATABASE_URL -u REDIS_URL DJANGO_SETTINGS_MODULE=config.settings.dev \
  $(BIN)/python manage.py

.PHONY: demo
demo: $(RUNTIME) ## the whole job on invented data, on SQLite, over HTTP; results under var/demo
	@$(MANAGE) demo

.PHONY: serve
serve: $(RUNTIME) ## the demo's data standing, with its address, API documentation and keys
	@$(MANAGE) serve_demo

.PHONY: messages
messages: $(DEV) ## compile the translations of pages that changed texts ask for
	@$(BIN)/pybabel -q compile -d inspections/locale -D django -l es

.PHONY: migrations
migrations: $(RUNTIME) ## write the migrations that changed models ask for
	@$(MANAGE) makemigrations

# --- proving it ------------------------------------------------------------------------------

.PHONY: test
test: $(DEV) ## all tests on SQLite, and on PostgreSQL and Redis where those answer
	@$(BIN)/python -m tests

.PHONY: long
long: $(DEV) ## the longer proofs: every field with every bad value, the whole document as everybody, random histories
	@LONG=1 $(BIN)/python -m pytest -q -s tests/journeys/test_contract.py tests/journeys/test_bad_fields.py
	@$(BIN)/python -m tests -m long

.PHONY: mutate-walls
mutate-walls: $(DEV) ## break each policy, scope and composite key in turn: its table's tests must fail
	@$(BIN)/python -m tests -m mutants

.PHONY: check
check: $(RUNTIME) imports lint types layout ## everything that is proven without running the code
	@echo "==> models and migrations agree"
	@$(MANAGE) makemigrations --check --dry-run

.PHONY: imports
imports: $(DEV) ## the arrows: who may import whom
	@echo "==> import contracts"
	@$(BIN)/lint-imports

.PHONY: lint
lint: $(DEV) ## style: ruff's rules and formatting
	@echo "==> ruff"
	@$(BIN)/ruff check --quiet && $(BIN)/ruff format --check --quiet && echo "style holds"

.PHONY: format
format: $(DEV) ## mend what ruff can mend by itself, and format
	@$(BIN)/ruff check --fix --quiet; $(BIN)/ruff format

.PHONY: types
types: $(DEV) ## mypy, strict for rules/
	@echo "==> mypy"
	@$(BIN)/mypy

.PHONY: layout
layout: $(DEV) ## the layout, module sizes, and no package index named in any file
	@echo "==> layout"
	@$(BIN)/python .ci/layout.py

.PHONY: ci
ci: ## what has to pass before a change lands: services required, tests, checks, a clean demo
	@.ci/run
