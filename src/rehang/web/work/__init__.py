"""The rest of the job: tasks, places, parts, the plan, the rotation, what the owner is told."""
