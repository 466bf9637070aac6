"""What loads ask of sources: demand, loading, what fits, batteries through a day."""
