"""What every command has: its frame, root options, answers, complaints, completion."""
