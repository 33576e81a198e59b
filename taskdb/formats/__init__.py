"""Read and written: one module per open format behind one small registry; streams in, records and row problems out."""
