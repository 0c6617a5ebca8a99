"""What is asked: the scene, its JSON form, cells, rules of a layout, results."""
