// Package present holds what people read, once: units and numbers in words, the
// factors of 95 %, the names of fixes, methods and remarks, and how a utility is
// drawn. It knows readings and fixes but no map.
package present
