// viewer
