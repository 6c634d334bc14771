"""Five minutes with a car before it is bought, or out of its parcel."""
