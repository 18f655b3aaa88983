"""`python -m tests.docs`: write the pages that are made from the code's own tables."""

from tests.docs.pages import write

if __name__ == "__main__":
    write()
