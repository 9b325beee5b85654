//! Meshes measured by the general-purpose mesh library trimesh (version in the
//! data file, made by tests/reference/mesh_trimesh.py) and by ours.

use opal_geom::solids::{cuboid, icosphere, torus};
use opal_geom::{CutPlane, TriMesh, repair, section, volume_above_mm3};

/// The same wavering ball as in the script.
fn lumpy(level: u32) -> TriMesh {
    let mut mesh = icosphere(1.0, level);
    for p in &mut mesh.vertices {
        let [x, y, z] = *p;
        let r = 10.0
            * (1.0
                + 0.15 * (3.0 * x + 1.0).sin() * (2.0 * y - 0.5).cos()
                + 0.1 * (4.0 * z + x).sin());
        *p = [x * r, y * 1.4 * r, z * 0.6 * r];
    }
    mesh
}

#[test]
fn volumes_areas_and_sections_are_those_of_trimesh() {
    let text = include_str!("../../../tests/reference/mesh_trimesh.json");
    let data: serde_json::Value = serde_json::from_str(text).expect("the data file is JSON");
    let solids = [
        ("lumpy_4", lumpy(4)),
        ("lumpy_5", lumpy(5)),
        ("icosphere_5", icosphere(1.0, 5)),
        ("torus_3_1", torus(3.0, 1.0, 256, 256)),
        ("box_2_3_5", cuboid([-1.0, -1.5, -2.5], [1.0, 1.5, 2.5])),
    ];
    for (name, mesh) in solids {
        let facts = &data["solids"][name];
        let number = |key: &str| facts[key].as_f64().expect("a number");
        let near = |found: f64, key: &str, tolerance: f64| {
            let wanted = number(key);
            assert!(
                (found - wanted).abs() <= tolerance * wanted.abs(),
                "{name} {key}: {found} against {wanted}"
            );
        };
        assert_eq!(mesh.faces.len() as f64, number("faces"));
        near(mesh.volume_mm3(), "volume_mm3", 1e-9);
        near(mesh.area_mm2(), "area_mm2", 1e-9);
        let plane = CutPlane::level(number("section_z_mm"));
        let cut = section(&mesh, &plane);
        assert!(cut.open_mm.is_empty());
        near(cut.area_mm2, "section_area_mm2", 1e-6);
        near(volume_above_mm3(&mesh, &plane), "volume_above_mm3", 1e-6);
        // A clean solid goes through the repair untouched.
        let size = mesh.bounds().expect("not empty").longest_mm();
        let whole = repair(mesh.scaled(30.0 / size)).expect("a clean solid");
        assert!(
            whole.closed && whole.notes.is_empty(),
            "{name}: {:?}",
            whole.notes
        );
    }
}
