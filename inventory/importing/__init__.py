"""Reading registers of any shape: plain Python, no database. Sheets -> columns -> rows -> drafts, or a refusal."""
