"""What a job is judged by besides its book: layout, sheets, limits, meters, tasks, people's hours."""
