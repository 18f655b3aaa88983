"""How it gets there: readers, the heater and contacts over Modbus."""
