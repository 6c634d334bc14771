"""Faces of an inspection: JSON, drawing, report. They render; they compute nothing."""
