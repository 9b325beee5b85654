//! Evidence, meshes, price books and tables in and out.
