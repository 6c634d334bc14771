# carwright: every target makes the environment it needs first, from the lock files.
# All paths are relative, so that the folder may stand anywhere, under a name with spaces too.

SHELL = /bin/sh
.DEFAULT_GOAL = help

python = .venv/bin/python

# The rooms without input or output, whose tests must reach nearly every line and branch.
pure = units dates tables history measure judge explain prototype verdict
comma = ,
empty =
space = $(empty) $(empty)
pure_files = $(subst $(space),$(comma),$(foreach room,$(pure),src/carwright/$(room).py src/carwright/$(room)/**))

.PHONY: help
help: ## list these targets
	@sed -n 's/^\([a-z]*\):[^#]*## \(.*\)/make \1	\2/p' Makefile

.PHONY: demo
demo: environment-run ## run the main job on the demo car, into demo/
	@$(python) -m carwright demo --dir demo

.PHONY: test
test: environment-test system-packages check ## check and run all tests, installing what they need
	$(python) -m pytest -n 2 --cov --cov-report=
	$(python) -m coverage report
	$(python) -m coverage report --include='$(pure_files)' --fail-under=90

.PHONY: check
check: environment-test ## ruff (rules and format) and mypy
	$(python) -m ruff check .
	$(python) -m ruff format --check .
	$(python) -m mypy

.PHONY: bench
bench: environment-test ## measure speed
	@PYTHONPATH=studies $(python) bench/run_bench.py

.PHONY: studies
studies: environment-test ## run the studies
	@$(python) studies/run_studies.py

.PHONY: docs
docs: environment-test system-packages ## bring outputs and pictures in the docs up to date
	@$(python) tools/docs.py
	@$(python) tools/pictures.py

# Run after a change of a requirements*.in file. It fetches the resolver uv into a temporary environment and rewrites
# the locks; pins that still fit stay. `make lock UPGRADE=1` takes the newest releases.
.PHONY: lock
lock: ## rewrite the lock files from the .in files (UPGRADE=1: newest releases)
	@tools/lock.sh $(if $(UPGRADE),--upgrade)

.PHONY: clean
clean: ## remove the environment and all that was made
	rm -rf .venv artefacts build demo dist htmlcov .coverage .coverage.* .hypothesis .mypy_cache .pytest_cache .ruff_cache
	find . -path ./.git -prune -o -name __pycache__ -type d -prune -exec rm -rf {} +

.PHONY: environment-run environment-test system-packages
environment-run:
	@tools/environment.sh run
environment-test:
	@tools/environment.sh test
system-packages: environment-test
	@tools/system-packages.sh
