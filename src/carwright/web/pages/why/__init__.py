"""Why a car stands as it stands, and what cures it."""
