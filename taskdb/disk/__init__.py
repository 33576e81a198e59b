"""What store and files both need to know of a disk: what it says in words, and private folders beside what is written.

Knows neither stores nor formats; stands below both, since the two do not import each other.
"""
