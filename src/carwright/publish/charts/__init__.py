"""Charts: each a scene, the same on a page, in print and as a picture. Nothing is told by colour alone."""
