"""Pages, partials and static files of the bench."""
