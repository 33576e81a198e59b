"""What a course is: zones and their axes, legs, extremes of areas, shape, time, fingerprint. Pure computing."""
