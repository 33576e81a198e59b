"""Handing out: files, sheets, a day in everyone's hands, and what changed since."""
