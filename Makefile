# Each name is a task of tasks.py, which says what there is: make help
# make run PORT=8080, make test ARGS="-k torque", CORES=2, SEEDS=20, TRIES=20000

export PORT ARGS CORES SEEDS TRIES

PYTHON := $(firstword $(foreach name,python3.11 python3.12 python3.13 python3.14 python3,$(shell command -v $(name))))
TASKS  := help setup run quick test coverage properties doors check lint fix docs bench clean

.PHONY: $(TASKS)
.NOTPARALLEL:

$(TASKS):
	@$(or $(PYTHON),$(error Rehang needs Python 3.11 or later, and none is on the PATH)) -m tasks $@
