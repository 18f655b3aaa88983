"""The long campaigns, which anyone can run again: faults on many kilns, kills at many moments."""
