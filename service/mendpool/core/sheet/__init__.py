"""The one-page fault sheet for a nameplate, and the pencilled form on its back."""
