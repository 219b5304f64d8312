"""The coupled system: declared once, run as a compiled chain and as an OpenMDAO problem."""
