"""Money: labor, materials, lines, proposal, documents, change orders, guest links."""
