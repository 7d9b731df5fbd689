# `make` or `make help` lists the targets. Nothing needs installing beforehand but Python
# 3.11 to 3.13 and make itself: the first target that needs .venv makes it from the locks.
SHELL := /bin/sh
.DEFAULT_GOAL := help

VENV := .venv
BIN := $(VENV)/bin
RUNTIME := $(VENV)/.runtime-installed
DEV := $(VENV)/.dev-installed
CODE := config doors inspections rules tests manage.py

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

.PHONY: lock
lock: $(DEV) ## write the lock files anew from pyproject.toml (UPGRADE=1 takes newer releases)
	@$(BIN)/python .ci/lock.py $(if $(UPGRADE),--upgrade)

# --- running it ------------------------------------------------------------------------------

.PHONY: demo
demo: $(RUNTIME) ## the whole job on invented data, on SQLite, over HTTP; results under var/demo
	@DJANGO_SETTINGS_MODULE=config.settings.dev $(BIN)/python manage.py demo

.PHONY: serve
serve: $(RUNTIME) ## the demo's data standing, with its address, API documentation and keys
	@DJANGO_SETTINGS_MODULE=config.settings.dev $(BIN)/python manage.py serve_demo

.PHONY: migrations
migrations: $(RUNTIME) ## write the migrations that changed models ask for
	@DJANGO_SETTINGS_MODULE=config.settings.dev $(BIN)/python manage.py makemigrations
