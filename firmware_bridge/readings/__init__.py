"""From a meter's frames to rows: put in order, dated, counted, checked. Bytes in, rows out."""
