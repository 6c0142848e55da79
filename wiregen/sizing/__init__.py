"""The one sizer: fuses and conductors that are "auto"."""
