"""Done: one module per noun, one function per thing the tool can do, one transaction each, frozen values."""
