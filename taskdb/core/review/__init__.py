"""The review of a task: what a setter should know before it is flown, one rule a file; pure."""
