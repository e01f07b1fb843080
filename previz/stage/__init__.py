"""A scene in numbers: SI units, nothing implied."""
