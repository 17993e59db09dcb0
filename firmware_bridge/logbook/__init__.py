"""The one way in for what people do: checked, signed with who and when, stored, never edited."""
