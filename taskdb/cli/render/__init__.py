"""Drawing for people: lines, tables and numbers, from plain results. Reads no store and computes no facts."""
