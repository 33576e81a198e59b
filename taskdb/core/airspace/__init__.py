"""Airspace and keep-out areas: volumes of air, their heights and rings, and where courses and zones meet them; pure."""
