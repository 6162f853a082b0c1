"""A quarter as one zip file that proves itself: written here, and checked by who trusts nobody."""
