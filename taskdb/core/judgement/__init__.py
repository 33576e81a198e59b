"""What helps to decide which task is flown: figures with their reasons, never promises; pure."""
