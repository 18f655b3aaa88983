"""How an older record becomes one of today. Run in process by `opening`; there is no settings file."""
