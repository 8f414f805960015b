"""All rooms' sections of a book, in the order in which they are read: what is referred to comes first."""

from jobs import book as jobs_book
from recipes import book as recipes_book
from studio.house import book as house_book
from studio.kit.book import names_of
from studio.stockroom import book as stock_book

SECTIONS = (*house_book.SECTIONS, *stock_book.SECTIONS, *recipes_book.SECTIONS, *jobs_book.SECTIONS)
NAMES = names_of(SECTIONS)
