"""Why it is wrong and what to do: the coupler stack, causes, remedies, plans and ballast.

The modules that compute load NumPy; they are imported where they are used, so that a sheet without couplers stays
quick.
"""
