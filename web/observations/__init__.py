"""What people saw: a checkpoint's list, cracks, plastic drained, photographs, how the casting turned out."""
