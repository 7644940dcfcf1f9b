# make demo        the demo studio on http://127.0.0.1:8000 (another port: make demo PORT=8765)
# make studio      your own studio, empty at first, kept apart from the demo
# make test        everything that must hold; test-full does the long runs at full size as well

PORT ?= 8000
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
JOBS ?= 2
# Sections of the lock file to install beside what runs: make install WITH="postgres heic"
WITH ?=

# A stamp is named after the lock file's checksum, so a changed lock installs anew and a fresh clone's dates do not matter.
SUM := $(firstword $(shell cksum < requirements.lock))
RUN := $(VENV)/.installed-run-$(SUM)
TEST := $(VENV)/.installed-test-$(SUM)

# Folders whose tests touch the database and so run on both SQLite and PostgreSQL.
ON_POSTGRES := $(wildcard $(addprefix tests/,models queries actions notifications views commands))

.PHONY: help demo studio install setup setup-test test test-full test-sqlite test-postgres lint format bench lock clean

help:
	@sed -n 's/^# //p' Makefile | sed -n 1,3p

demo: $(RUN)
	@WAREBOARD_DEMO=1 $(BIN)/python manage.py serve --port $(PORT)

studio: $(RUN)
	@WAREBOARD_DEMO=0 WAREBOARD_VAR=$${WAREBOARD_VAR:-$(CURDIR)/var/studio} $(BIN)/python manage.py serve --port $(PORT)

setup: $(RUN)

setup-test: $(TEST)

install: $(RUN)
	@$(call install,$(WITH))

# $(call install,sections): the named sections of the lock file, every file checked against its hash.
install = awk '/^\# section: /{on=index(" $(1) "," "$$3" ")} on' requirements.lock > $(VENV)/wanted.txt \
	&& $(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r $(VENV)/wanted.txt

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
		|| { echo "Wareboard needs Python 3.11 or later. Name one: make PYTHON=python3.12 ..."; exit 1; }
	@$(PYTHON) -m venv $(VENV) \
		|| { rm -rf $(VENV); echo "Python could not make $(VENV). On Debian or Ubuntu: apt-get install python3-venv"; exit 1; }

$(RUN): | $(BIN)/python
	@echo "Installing what Wareboard runs on into $(VENV) ..."
	@$(call install,run)
	@rm -f $(VENV)/.installed-run-* && touch $@

$(TEST): $(RUN)
	@echo "Installing what the tests need into $(VENV) ..."
	@$(call install,run postgres test)
	@rm -f $(VENV)/.installed-test-* && touch $@

lint: $(TEST)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

format: $(TEST)
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

lock: $(BIN)/python
	@test -x build/lock/bin/uv || { $(PYTHON) -m venv build/lock && build/lock/bin/pip install --quiet uv; }
	@$(BIN)/python tests/support/lock.py build/lock/bin/uv $(if $(UPGRADE),--upgrade)

clean:
	rm -rf $(VENV) build .pytest_cache .ruff_cache .hypothesis
	find studio tests -name __pycache__ -type d -prune -exec rm -rf {} +
