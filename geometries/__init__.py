"""What a container is: shapes, materials, parts. No heat here."""
