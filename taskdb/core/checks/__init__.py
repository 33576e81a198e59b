"""Proving a catalogue clean: the engine, what people mistype, and one file per rule."""
