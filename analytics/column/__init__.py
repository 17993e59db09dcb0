"""Our own exchange column: what a bed of exchanger makes of a water, from fresh to spent."""
