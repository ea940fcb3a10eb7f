# The two commands a newcomer needs are `make demo` and `make test`. Each first brings
# the machine to where it can run (.ci/prepare), and that costs nothing the second time.

.DEFAULT_GOAL := help
.PHONY: help demo test faults fuzz bench roots wheels soak install rollback uninstall clean

# Passed on to the program: make demo ARGS="--for 14h --speed 600"
ARGS ?=
# How long and how often `make fuzz` tries.
MINUTES ?= 10
KILLS ?= 1000
# Which Python to build .venv from: make test PYTHON=python3.13
PYTHON ?=
export PYTHON
# Debian keeps the mosquitto broker where a user's PATH does not look.
export PATH := $(PATH):/usr/sbin:/sbin

help:
	@echo 'make demo    an invented greenhouse through an invented night, here and now;'
	@echo '             ARGS="--for 14h --speed 600" says how long and how fast'
	@echo 'make test    style, types and every test: what a change must pass'
	@echo 'make faults  break everything in turn and print what came of it, some minutes;'
	@echo '             ARGS="probes broker-*" names rooms or faults'
	@echo 'make fuzz    break it by chance for MINUTES=10, and kill the journal KILLS=1000 times;'
	@echo '             stops with the shortest way to what it broke'
	@echo 'make bench   measure what the design gives a budget for, and print it'
	@echo 'make soak    an hour and a year with a keeper: does anything grow? takes two hours or three;'
	@echo '             ARGS="--minutes 10 --days 10" is the short one'
	@echo 'make wheels  is there a ready-made package of everything for each board and Python?'
	@echo '             takes some minutes; ARGS="page alarms" looks at these extras alone'
	@echo 'sudo make roots'
	@echo '             install, upgrade, go back and take off in clean Debian 12 and 13;'
	@echo '             needs debootstrap and systemd-container, and some minutes'
	@echo 'sudo make install, rollback, uninstall'
	@echo '             as a service on this machine; systemd/installer says what goes where'
	@echo 'make clean   remove what these made (.venv, caches, the demo house)'
	@echo
	@echo 'PYTHON=python3.x chooses the interpreter (3.11 or later).'

demo:
	@.ci/prepare demo
	@.venv/bin/greenkeeper demo $(ARGS)

test:
	@.ci/prepare test
	.venv/bin/ruff check .
	.venv/bin/ruff format --check .
	.venv/bin/mypy
	.venv/bin/pytest --numprocesses=logical --dist=loadfile

faults:
	@.ci/prepare test
	@.venv/bin/python -m tests.faults $(ARGS)

fuzz:
	@.ci/prepare test
	@.venv/bin/python -m tests.fuzz --minutes $(MINUTES) --kills $(KILLS)

# As modules, so that a benchmark can share the tests' helpers.
bench:
	@.ci/prepare test
	@set -e; for file in tests/bench/bench_*.py; do \
	    if [ ! -e "$$file" ]; then echo 'no benchmark in tests/bench/' >&2; exit 1; fi; \
	    echo "== $$file"; \
	    .venv/bin/python -m "tests.bench.$$(basename "$$file" .py)"; \
	done

# As root, with debootstrap and systemd-container: clean Debian 12 and 13, each booted.
roots:
	@python3 -m tests.roots $(ARGS)

soak:
	@.ci/prepare test
	@.venv/bin/python -m tests.soak $(ARGS)

# Asks the package index; downloads, installs nothing.
wheels:
	@.ci/prepare test
	@.venv/bin/python -m tests.wheels $(ARGS)

install rollback uninstall:
	@systemd/installer $@

clean:
	rm -rf .venv .mypy_cache .ruff_cache .pytest_cache .hypothesis dist demo-house
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
