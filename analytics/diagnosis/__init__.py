"""What goes wrong in the field, told apart by its signature and named in the words of NE 107."""
