"""The car drawn to scale from its geometry: side, end and plan, dimensions, pins, deformation."""
