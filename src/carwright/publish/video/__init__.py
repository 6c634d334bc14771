"""For video: cards to lay over the picture, a shot list in bench order, chapters, and a still for the cover."""
