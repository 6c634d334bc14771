"""Where one comes in: at the car looked at last."""
