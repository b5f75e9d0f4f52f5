"""The pages: sections, texts, templates."""
