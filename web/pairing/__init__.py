"""Pairing on the page's side: who holds a token, trading a code for one, and the list of devices."""
