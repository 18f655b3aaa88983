"""What is estimated, for the page: the forecast that is asked for, and the live estimate of a firing.

All of it is worked out in a process of its own (`worker`), so that neither the page's event loop nor the
controller waits for a model. None of it can permit heat.
"""
