// Package table reads the rows of outcomes tables: what their headings, words and
// dates mean, and what the rows of one table say together. It puts them in blocks
// of a store, and decides nothing about patients or joints.
package table
