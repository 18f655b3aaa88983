"""A kiln that is not there: the plant and its Modbus face."""
