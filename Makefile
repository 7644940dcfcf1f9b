# make demo        the demo studio on http://127.0.0.1:8000 (another port: make demo PORT=8765)
# make studio      your own studio, empty at first, kept apart from the demo
# make tutor       the first way into your own studio, once it is open
# make test        everything that must hold; make test-full does the long runs at full size as well
# make bench       how fast and how well the parts with numbers do
# make lint        how the code is written; make format puts right what it can

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

VAR := $(CURDIR)/var
SERVED_AT = WAREBOARD_SITE_URL="$${WAREBOARD_SITE_URL:-http://127.0.0.1:$(PORT)}"

# Settings of a studio on the open web: what `manage.py check --deploy` is to find nothing against.
AS_DEPLOYED := WAREBOARD_VAR=$(CURDIR)/build/checks WAREBOARD_SITE_URL=https://studio.example

PYTEST := $(BIN)/python -m pytest -n $(JOBS) --dist worksteal

# Folders whose tests touch the database and so run on both SQLite and PostgreSQL.
ON_POSTGRES := $(wildcard $(addprefix tests/,models queries actions notifications views commands))

.PHONY: help demo studio tutor port setup setup-test install test test-full checks lint format bench lock clean

help:
	@sed -n 's/^# make/make/p' Makefile

demo: port $(RUN)
	@exec env WAREBOARD_DEMO=1 WAREBOARD_VAR="$${WAREBOARD_VAR:-$(VAR)/demo}" $(SERVED_AT) \
		$(BIN)/python manage.py serve --port $(PORT)

studio: port $(RUN)
	@exec env WAREBOARD_DEMO=0 $(SERVED_AT) $(BIN)/python manage.py serve --port $(PORT)

tutor: $(RUN)
	@$(BIN)/python manage.py add_tutor

# Asked before anything is installed; `serve` asks again and then holds the port.
port:
	@$(if $(TAKEN),$(error Port $(PORT) is not free. Choose another: make $(filter demo studio,$(MAKECMDGOALS)) PORT=$(NEXT)))

NEXT = $(shell expr $(PORT) + 1)
TAKEN = $(shell $(PYTHON) -c "import socket; \
	print('taken' if socket.socket().connect_ex(('127.0.0.1', $(PORT))) == 0 else '')" 2>/dev/null)

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

test: checks
	$(PYTEST)
	$(if $(ON_POSTGRES),$(PYTEST) --database=postgres $(ON_POSTGRES))

test-full: checks
	$(PYTEST) -m ''
	$(if $(ON_POSTGRES),$(PYTEST) -m '' --database=postgres $(ON_POSTGRES))

checks: $(TEST)
	@$(BIN)/python -m tests.support.browser
	@$(MAKE) --no-print-directory lint
	@mkdir -p build
	$(AS_DEPLOYED) $(BIN)/python manage.py makemigrations --check --dry-run
	$(AS_DEPLOYED) $(BIN)/python manage.py check --deploy --fail-level WARNING

bench: $(TEST)
	$(BIN)/python -m tests.bench

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
