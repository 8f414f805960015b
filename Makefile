# The one way to run things. `make demo` and `make test` set up everything they need.
SHELL := /bin/bash
.DELETE_ON_ERROR:
.PHONY: demo start tls test attack explore lint pictures bench book schema lock clean-demo

VENV := .venv
PYTHON := $(VENV)/bin/python
PORT ?= 8000
# The demo lives in a folder of its own and in no other database, whatever the environment says.
DEMO := env -u DATABASE_URL -u SECRET_KEY -u KEPT_FILES DAYBOOK_DATA=$(CURDIR)/.daybook-demo PUBLIC_URL=http://127.0.0.1:$(PORT)

# Nor does anything but a studio's own start touch a store of kept files.
test attack explore lint pictures bench book: export KEPT_FILES :=

demo: $(VENV)/ready .system-app
	@$(DEMO) $(PYTHON) manage.py migrate --verbosity 0
	@$(DEMO) $(PYTHON) manage.py load_demo
	@$(DEMO) $(PYTHON) manage.py check --database default --fail-level ERROR
	@echo; echo "Silvering Daybook, demo: http://127.0.0.1:$(PORT)/"
	@$(DEMO) $(PYTHON) manage.py demo_people
	@echo "Stop it with Ctrl-C."; echo
	@$(DEMO) LISTEN=127.0.0.1:$(PORT) $(PYTHON) -m studio.serve --worker

start: export PUBLIC_URL ?= http://127.0.0.1:$(PORT)
start: $(VENV)/ready .system-app
	@$(PYTHON) manage.py migrate --verbosity 0
	@$(PYTHON) manage.py check --database default --fail-level ERROR
	@$(PYTHON) manage.py first_owner --if-empty
	@echo "Silvering Daybook: $$PUBLIC_URL/"
	@LISTEN=$${LISTEN:-127.0.0.1:$(PORT)} $(PYTHON) -m studio.serve --worker

# TLS for a tablet in the studio's own network: an authority of the studio's own, made once, a certificate for the name
# (or number) under which the tablet finds this machine, and what nginx needs to serve it.
NAME ?=
TLS_PORT ?= 8443
tls:
	@test -n "$(NAME)" || { echo "Say under which name: make tls NAME=bench.local"; exit 1; }
	@command -v openssl > /dev/null || .ci/system openssl
	@test -x /usr/sbin/nginx || .ci/system nginx-light
	@.ci/tls "$${DAYBOOK_DATA:-.daybook}/tls" "$(NAME)" "$(TLS_PORT)" "$(PORT)"

# All of it, style and types first, a worker a core. PART=tests/jobs runs a part alone, in one process, its tables made
# from the models (the rules as ever, after them): migrations are the whole suite's to prove.
PART ?=
WORKERS ?= $(if $(PART),0,auto)
test: $(if $(PART),$(VENV)/ready,lint) .system-test
	$(PYTHON) -m pytest -n $(WORKERS) --dist worksteal $(if $(filter 0,$(WORKERS)),--no-migrations) $(OF) $(PART)

# Attacks as programs, bounded in time and count, on the database that DATABASE_URL names. Not part of `make test`.
SECONDS_EACH ?= 600
attack: $(VENV)/ready .system-test
	$(PYTHON) -m tests.attack.killed_migration --each --seconds $(SECONDS_EACH)
	$(PYTHON) -m tests.attack.killed_migration --every --seconds $(SECONDS_EACH)
	$(PYTHON) -m tests.attack.killed_migration --random 50 --full --seconds $(SECONDS_EACH)
	$(PYTHON) -m tests.attack.kills backup
	$(PYTHON) -m tests.attack.kills restore
	$(PYTHON) -m tests.attack.bad_inputs
	$(PYTHON) -m tests.attack.races
	$(PYTHON) -m tests.attack.killed_under_posters
	$(PYTHON) -m tests.attack.fifty_people

# Other cases than the suite's own for every property: what it finds becomes an example there.
explore: $(VENV)/ready .system-test
	HYPOTHESIS_PROFILE=exploring $(PYTHON) -m pytest -m hypothesis -n $(WORKERS)

lint: $(VENV)/ready
	$(VENV)/bin/ruff check .
	$(VENV)/bin/mypy
	$(VENV)/bin/lint-imports
	$(VENV)/bin/djlint templates --lint --quiet
	! grep -rnE '^.{121,}$$' templates  # comments too, which the linter passes over
	env DATABASE_URL=sqlite://:memory: $(PYTHON) manage.py makemigrations --check --dry-run
	env DAYBOOK_DATA=$$(mktemp -d) PUBLIC_URL=https://daybook.example $(PYTHON) manage.py check --deploy --fail-level WARNING
	$(PYTHON) manage.py access > /dev/null

# Photograph every page and paper of a demo of its own into .pictures.
pictures: $(VENV)/ready .system-test
	$(PYTHON) -m tests.pictures

# Timings, to read: never an assertion. Thin beside thick: the demo and a studio of five busy years, every page of both,
# kept in .thick between runs; SHARE=0.1 makes a tenth of the years, ONLY=today asks pages so named.
SHARE ?= 1
ONLY ?=
bench: $(VENV)/ready
	$(if $(ONLY),,$(PYTHON) -m tests.benchmark)
	$(PYTHON) -m tests.thick.bench --share $(SHARE) --only "$(ONLY)"

# The demo's book and the published schema, written anew.
book: $(VENV)/ready
	$(PYTHON) -m studio.whole.demo.write_book
schema: $(VENV)/ready
	$(PYTHON) manage.py book_schema > studio/whole/book/schema.json

lock: $(VENV)/ready
	$(PYTHON) -m pip install --quiet pip-tools
	$(VENV)/bin/pip-compile --quiet --extra dev --extra store --generate-hashes --allow-unsafe --strip-extras \
	  --no-emit-index-url --no-emit-trusted-host --no-emit-find-links -o requirements.txt pyproject.toml

clean-demo:
	rm -rf .daybook-demo

$(VENV)/ready: requirements.txt | .system-python
	@test -x $(PYTHON) || python3 -m venv $(VENV)
	@$(PYTHON) -m pip install --quiet --quiet --disable-pip-version-check --require-hashes -r requirements.txt
	@touch $@

# System libraries, where missing. As another user than root, say what to install.
.PHONY: .system-python .system-app .system-test
.system-python:
	@python3 -c 'import ensurepip, venv' 2>/dev/null || .ci/system python3-venv
.system-app:
	@ldconfig -p | grep -q libpangoft2-1.0 && ldconfig -p | grep -q libharfbuzz-subset || .ci/system libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0
.system-test: .system-app
	@command -v chromium > /dev/null || .ci/system chromium
	@command -v pdftoppm > /dev/null || .ci/system poppler-utils
	@command -v openssl > /dev/null || .ci/system openssl
	@test -x /usr/sbin/nginx || .ci/system nginx-light
	@ls /usr/lib/postgresql/*/bin/initdb > /dev/null 2>&1 || .ci/system postgresql
